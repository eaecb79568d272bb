package main

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"phasetally/xrd"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/scanfile"
	"phasetally/xrd/simulate"
)

// simulation holds the flags of simulate beside those that commands share.
type simulation struct {
	job                                         simulate.Job
	sizes, strains, textures, stretches, haloes []string
	intercept                                   string
	quiet                                       bool // no noise
}

func newSimulate() *cobra.Command {
	var o options
	s := simulation{job: simulate.Job{Step: 0.02, Time: 1, Rate: 4000, Background: 20}}
	c := &cobra.Command{
		Use:   "simulate --phase ID=WT...",
		Short: "A scan of a given mixture",
		Long: `Calculate the scan of a mixture of known content with the model that fits, and write it as a scan file that describes itself
and says SIMULATED, as does every figure made from it. The count rate is that of the strongest line (113) of pure corundum on
the same diffractometer; fractions must add up to 100 wt%.`,
		Example: `  phasetally simulate --phase copper=80 --phase cu3sn-epsilon=20 --radiation Cu --out bushing-simulated.xy
  phasetally simulate --phase quartz=2 --phase silicon=98 --texture silicon=1,1,1:0.7 --displacement 0.1 --halo 4.75:7.5:60 --seed 3 > powder-simulated.xy`,
		Args: cobra.NoArgs,
	}
	settingsFlags(c)
	ofThisRun(c, "phase", "size", "strain", "texture", "stretch")
	f := c.Flags()
	f.StringArrayVar(&o.phases, "phase", nil, "phase and its wt%, ID=WT (repeatable)")
	f.StringVar(&o.radiation, "radiation", "Cu", "tube (Cr, Fe, Co, Cu, Mo, Ag) or wavelengths in Å")
	f.StringVar(&o.monochromator, "monochromator", "", "none, graphite, or the crystal's angle in degrees 2θ")
	f.StringVar(&o.slit, "slit", "", "divergence slit: fixed:DEGREES or automatic:MM")
	f.Float64Var(&o.radius, "radius", 0, "goniometer radius, mm (default 200)")
	f.Float64Var(&o.length, "specimen-length", 0, "length of the specimen along the beam, mm (default: longer than the beam)")
	f.StringVar(&o.section, "section", "", "transverse, longitudinal, rolled or powder, for the record")
	f.StringVar(&o.mount, "mount", "", "what holds the specimen, for the record; see --halo")
	f.StringVar(&o.sample, "sample", "", "name of the specimen")
	f.StringVar(&o.instrument, "instrument", "", "instrument file that calibrate wrote")
	o.collectionFlags(c)
	f.StringVar(&o.span, "range", "20:100", "LO:HI degrees 2θ")
	f.Float64Var(&s.job.Step, "step", s.job.Step, "degrees 2θ")
	f.Float64Var(&s.job.Time, "time", s.job.Time, "s per step")
	f.Float64Var(&s.job.Rate, "rate", s.job.Rate, "counts/s at the top of corundum 113, pure, on this diffractometer")
	f.Float64Var(&s.job.Background, "background", s.job.Background, "counts/s")
	f.Float64Var(&s.job.Air, "air", 0, "counts/s that scattering by air adds at 5°")
	f.StringArrayVar(&s.haloes, "halo", nil, "broad hump D:WIDTH:HEIGHT in Å, degrees 2θ with Cu Kα and counts/s (repeatable)")
	f.Float64Var(&s.job.Displacement, "displacement", 0, "of the surface below the focusing plane, mm")
	f.StringArrayVar(&s.sizes, "size", nil, "crystallite size ID=NM (repeatable)")
	f.StringArrayVar(&s.strains, "strain", nil, "microstrain ID=E, as in copper=0.001 (repeatable)")
	f.StringArrayVar(&s.textures, "texture", nil, "March–Dollase texture ID=H,K,L:R; R below 1: plates (repeatable)")
	f.StringArrayVar(&s.stretches, "stretch", nil, "relative growth of the cell ID=E (repeatable)")
	f.Float64Var(&s.job.KBeta, "k-beta", 0, "intensity of Kβ over that of Kα")
	f.Float64Var(&s.job.WLAlpha, "w-l-alpha", 0, "intensity of W Lα of an old tube over that of Kα")
	f.Float64Var(&s.job.EdgeStep, "edge-step", 0, "white radiation beside every line down to the filter's edge, per degree at 40°, over the area of the line")
	f.StringVar(&s.intercept, "intercept", "0", "mean intercept of the grains of a polished section, µm: 0 fine, inf coarse")
	f.Float64Var(&s.job.Grain, "grain", 0, "diameter of the grains of a powder, µm, for the absorption in them: 0 fine")
	f.Float64Var(&s.job.LineScatter, "few-grains", 0, "relative scatter of the lines that few grains cause, as in 0.2")
	f.Uint64Var(&s.job.Seed, "seed", 1, "of the random numbers: the same gives the same scan")
	f.BoolVar(&s.quiet, "no-noise", false, "expected counts instead of counted ones")
	f.StringVar(&o.out, "out", "", "scan file to write (default: standard output)")
	f.BoolVar(&o.force, "force", false, "replace an existing file")
	checked(c, func(c *cobra.Command, _ []string) error { return o.simulated(c, &s) })
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := o.simulated(c, &s); err != nil {
			return err
		}
		scan, err := simulate.Run(s.job)
		if err != nil {
			return err
		}
		counts := scan.Expected
		if !s.quiet {
			counts = simulate.Count(counts, s.job.Seed)
		}
		return o.writeScan(c.OutOrStdout(), scan.TwoTheta, counts, s.about(&o))
	}
	return c
}

func (o *options) writeScan(stdout io.Writer, x, y []float64, about xrd.ScanInfo) error {
	scan, err := xrd.NewScan(x, y, nil, about)
	if err != nil {
		return fmt.Errorf("%w; give more --time or a higher --rate", err)
	}
	var b bytes.Buffer
	if err := scanfile.Write(&b, scan); err != nil {
		return failure{err}
	}
	if o.out != "" {
		return resultfile.WriteFile(o.out, b.Bytes())
	}
	_, err = io.Copy(stdout, strings.NewReader(b.String()))
	return err
}
