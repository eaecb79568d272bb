package peaks_test
import ("testing";"fmt";"math";"phasetally/peaks";"phasetally/xrd/xrdtest")
func TestDbg(t *testing.T) {
 for _, eta := range []float64{0,0.5} { for _, area := range []float64{100,1000,1e4} { for _,bgl := range []float64{3,100} {
	var a, tr, w, wt,bb,n, e float64
	for seed := range uint64(40) {
		p := xrdtest.Pattern{Lo: 20, Hi: 100, Step: 0.02, Background: flat(bgl)}
		for at := 25.0; at < 95; at += 5 {
			p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at, Area: area * 0.02, FWHM: xrdtest.Width(at), Eta: eta})
		}
		f := peaks.Find(p.Scan(t, seed), copper, peaks.Settings{})
		ex := p.Expected(p.Angles())
		for _, q := range f.Peaks {
			for _, l := range p.Lines { if math.Abs(l.TwoTheta-q.TwoTheta) < 0.1 { a+=q.Area; tr+=l.Area; w+=q.FWHM; wt+=l.FWHM; e+=q.Eta } }
		}
		_ = ex
		for i:= range f.Background { bb += f.Background[i]; n++ }
	}
	fmt.Printf("eta %.1f area %g bg %g: bias %.2f%% width bias %.2f%% bg bias %.2f%% eta %.2f n %.0f\n", eta, area, bgl, 100*(a/tr-1), 100*(w/wt-1), 100*(bb/n/bgl-1), e/(tr/area/.02), tr/area/.02)
 }}}
}
