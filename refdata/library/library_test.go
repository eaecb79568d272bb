package library_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/refdata/listfile"
	"phasetally/xrd"
)

func Example() {
	lib := library.Starter()
	i, err := lib.Lookup("Cuprite")
	copper, _ := xrd.ParseRadiation("Cu")
	phase, _ := lib.Phase(i, refdata.Beam{Radiation: copper})
	fmt.Printf("%s, %s: strongest line %.2f°, %v\n", phase.ID, phase.Formula, phase.Lines[phase.Strongest()].TwoTheta, err)
	_, err = lib.Lookup("cuprrite")
	fmt.Println(err)
	// Output:
	// cuprite, Cu2O: strongest line 36.42°, <nil>
	// "cuprrite" is not in the reference data; did you mean "cuprite"?
}

const rocksalt = `data_%s
_cell_length_a %g
_cell_length_b %[2]g
_cell_length_c %[2]g
_cell_angle_alpha 90
_cell_angle_beta 90
_cell_angle_gamma 90
_symmetry_space_group_name_H-M 'F m -3 m'
loop_
_atom_site_label
_atom_site_fract_x
_atom_site_fract_y
_atom_site_fract_z
_atom_site_B_iso_or_equiv
Ti 0 0 0 0.4
N 0.5 0.5 0.5 0.4
`

// folder writes files into a new folder; their names may hold folders.
func folder(t testing.TB, files map[string]string) string {
	dir := t.TempDir()
	for name, text := range files {
		put(t, filepath.Join(dir, name), text)
	}
	return dir
}

func put(t testing.TB, path, text string) {
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
}

func mixed(t testing.TB) string {
	return folder(t, map[string]string{
		"TiN.cif":         fmt.Sprintf(rocksalt, "tin", 4.242),
		"deep/other.CIF":  strings.ReplaceAll(strings.Replace(fmt.Sprintf(rocksalt, "other", 4.3), "_atom_site_B_iso_or_equiv\n", "", 1), " 0.4\n", "\n"), // a caution
		"deep/TIN.cif":    fmt.Sprintf(rocksalt, "again", 4.25),                                                                                           // same id as TiN.cif
		"broken.cif":      "data_broken\n_cell_length_a 4\n",
		"lines.csv":       "phase,formula,d,intensity,rir,colour\nMy Bronze,Cu0.9Sn0.1,2.12,100,8,brown\nMy Bronze,,1.84,45,,\nCopper,Cu,2.0871,100,9,\n",
		"broken.tsv":      "phase\td\nx\t2\n",
		"notes/readme.md": "not a reference",
	})
}

func ids(l *library.Library) []string {
	var list []string
	for i := range l.Len() {
		list = append(list, l.Entry(i).ID)
	}
	return list
}

func TestFromFiles(t *testing.T) {
	dir := mixed(t)
	var told []int
	lib, problems, err := library.FromFilesTold(t.Context(), func(p library.Progress) {
		told = append(told, p.Done)
		assert.LessOrEqual(t, p.Done, p.Total)
	}, dir)
	require.NotEmpty(t, told)
	for i, n := range told {
		assert.Equal(t, i+1, n)
	}
	require.NoError(t, err)
	assert.Equal(t, []string{"TiN", "other", "my-bronze", "copper"}, ids(lib))
	require.Len(t, problems, 5) // two bad files, a duplicate, the unused column of two phases
	var syntax *xrd.SyntaxError
	assert.ErrorAs(t, problems[0].Err, &syntax)
	assert.Contains(t, problems[0].String(), "broken.cif")
	assert.ErrorIs(t, problems[1].Err, listfile.ErrMissingColumn)
	var twice library.Problem
	for _, p := range problems {
		if errors.Is(p.Err, library.ErrDuplicate) {
			twice = p
		}
	}
	assert.Equal(t, "TIN", twice.ID)
	assert.Contains(t, twice.String(), "TiN.cif", "says who has the id")

	i, ok := lib.Find("  tIn ")
	require.True(t, ok)
	phase, err := lib.Phase(i, copper(t))
	require.NoError(t, err)
	assert.InDelta(t, 4.242, phase.Cell.A, 1e-12)
	assert.True(t, lib.Entry(i).Elements.Has(22) && lib.Entry(i).Elements.Has(7) && lib.Entry(i).Elements.Len() == 2)
	// exact: the strongest line of the rock-salt type here is 200, a/2
	assert.InDelta(t, 4.242/2, lib.Entry(i).Strong[0].D, 1e-6)
	assert.Equal(t, filepath.Join(dir, "TiN.cif"), lib.Source(i).File)
	assert.Len(t, lib.Source(i).SHA256, 64)
	assert.True(t, lib.FromUser(i))
}

func TestFromFilesRefuses(t *testing.T) {
	_, _, err := library.FromFiles(t.Context(), filepath.Join(t.TempDir(), "nowhere"))
	assert.ErrorIs(t, err, os.ErrNotExist)
	dir := folder(t, map[string]string{"broken.cif": "x", "plain.bin": "x"})
	_, problems, err := library.FromFiles(t.Context(), dir)
	assert.ErrorIs(t, err, library.ErrNoPhases)
	assert.Len(t, problems, 1)
	_, problems, err = library.FromFiles(t.Context(), filepath.Join(dir, "plain.bin"))
	assert.ErrorIs(t, err, library.ErrNoPhases)
	assert.ErrorIs(t, problems[0].Err, library.ErrKind)
	done, cancel := context.WithCancel(t.Context())
	cancel()
	_, _, err = library.FromFiles(done, mixed(t))
	assert.ErrorIs(t, err, context.Canceled)
}

func TestMergeShadowsStarter(t *testing.T) {
	user, _, err := library.FromFiles(t.Context(), mixed(t))
	require.NoError(t, err)
	starter := library.Starter()
	before := starter.Len()
	lib := library.Merge(starter, user)
	assert.Equal(t, before+3, lib.Len(), "copper is there already")
	i, ok := lib.Find("copper")
	require.True(t, ok)
	assert.True(t, lib.FromUser(i))
	phase, err := lib.Phase(i, copper(t))
	require.NoError(t, err)
	assert.Equal(t, 9.0, phase.RIR.Value, "the user's list, not the starter's structure")
	j, ok := lib.Find("zincite")
	require.True(t, ok)
	assert.False(t, lib.FromUser(j))
	sources := lib.Sources()
	assert.Equal(t, library.StarterSource, sources[len(sources)-1].File)
	assert.Equal(t, before, sources[len(sources)-1].Phases)
	assert.NoError(t, lib.Close())
	empty := library.Merge()
	assert.Zero(t, empty.Len())
	_, err = empty.Lookup("x")
	assert.ErrorIs(t, err, library.ErrUnknownID)
	assert.NoError(t, empty.Close())
}

func TestNearestID(t *testing.T) {
	lib := library.Starter()
	for typed, want := range map[string]string{"corundun": "corundum", "zinctie": "zincite", "Quarz": "quartz", "cu6sn5-et": "cu6sn5-eta"} {
		got, ok := lib.NearestID(typed)
		assert.True(t, ok, typed)
		assert.Equal(t, want, got, typed)
	}
	for _, typed := range []string{"", "qqqqqqqqqqqq"} {
		_, err := lib.Lookup(typed)
		assert.ErrorIs(t, err, library.ErrUnknownID, typed)
		assert.NotContains(t, err.Error(), "did you mean", typed)
	}
}

// Names as people say them. Neighbours by spelling alone are never taken nor offered for short words: tin is no zinc.
func TestLookupUnderstandsNames(t *testing.T) {
	lib := library.Starter()
	for typed, want := range map[string]string{"alumina": "corundum", "Tonerde": "corundum", "bronze (α)": "bronze-alpha", "BRONZE alpha": "bronze-alpha",
		"tin": "tin-beta", "Zinn": "tin-beta", "TIN": "tin-beta", "TiN": "titanium-nitride", "ferrite": "iron-alpha", "Austenit": "iron-gamma", "parent of martensite": "iron-gamma",
		"Fe3C": "cementite", "Fe₂O₃": "hematite", "Ca(OH)2": "portlandite", "CaH2O2": "portlandite", "löschkalk": "portlandite", "Sn": "tin-beta", "wüstite": "wustite", "cuprit": "cuprite",
		"α-Fe": "iron-alpha", "gamma-Fe": "iron-gamma", "Fe (γ)": "iron-gamma", "β-Sn": "tin-beta", "η′-Cu6Sn5": "cu6sn5-eta-prime", "Cu6Sn5-eta": "cu6sn5-eta", "Bi2212": "bi-2212"} {
		i, err := lib.Lookup(typed)
		if assert.NoError(t, err, typed) {
			assert.Equal(t, want, lib.Entry(i).ID, typed)
		}
	}
	for typed, words := range map[string]string{"silica": "cristobalite", "rust": "goethite", "TiO2": "anatase", "SiC": "sic-4h", "iron": "iron-gamma"} {
		_, err := lib.Lookup(typed)
		require.ErrorIs(t, err, library.ErrAmbiguous, typed)
		assert.ErrorContains(t, err, words)
	}
	for _, typed := range []string{"kaolinite", "tinn", "zin", "clay", "Xq2", "?", "", "Bi2223", "C60", "Fe3", "δ-Fe", "γ-Al2O3"} {
		_, err := lib.Lookup(typed)
		require.ErrorIs(t, err, library.ErrUnknownID, typed)
		assert.NotContains(t, err.Error(), "did you mean", typed)
		assert.Contains(t, err.Error(), "--library", "and how to get it there")
	}
	assert.Less(t, len(lookupError(lib, strings.Repeat("x", 20000))), 300)
}

func lookupError(lib *library.Library, name string) string {
	_, err := lib.Lookup(name)
	return err.Error()
}

func TestPhaseIsComputedOnce(t *testing.T) {
	lib := library.Starter()
	var wait sync.WaitGroup
	first := make([]*refdata.Line, 16)
	for n := range first {
		wait.Go(func() {
			for i := range 20 {
				phase, err := lib.Phase(i, copper(t))
				if err == nil && i == 7 {
					first[n] = &phase.Lines[0]
				}
				_, _ = lib.Find(lib.Entry(i).ID)
			}
		})
	}
	wait.Wait()
	for _, line := range first {
		require.NotNil(t, line)
		assert.Same(t, first[0], line, "all share one computation")
	}
	b := copper(t)
	b.MaxTwoTheta = 60
	short, err := lib.Phase(7, b)
	require.NoError(t, err)
	assert.NotSame(t, first[0], &short.Lines[0], "another beam is another phase")
}

func TestFromRecordsReportsWhatCannotBeComputed(t *testing.T) {
	lib := library.FromRecords("mine", "", []refdata.Record{{ID: "bad", SpaceGroup: "X 9 9 9"}})
	_, err := lib.Phase(0, copper(t))
	var at *xrd.SyntaxError
	assert.ErrorAs(t, err, &at)
	problems, err := lib.Check(t.Context(), nil)
	require.NoError(t, err)
	assert.Len(t, problems, 1)
}

// Spreadsheet lists of the starter's phases must give the phases back: the lines command writes such lists.
func TestStarterThroughLists(t *testing.T) {
	lib := library.Starter()
	for i := range lib.Len() {
		phase, err := lib.Phase(i, copper(t))
		require.NoError(t, err)
		var out, again bytes.Buffer
		require.NoError(t, listfile.Write(&out, []refdata.Phase{phase}))
		lists, err := listfile.Read(strings.NewReader(out.String()), phase.ID+".csv")
		require.NoError(t, err, phase.ID)
		back, err := lists[0].Phase(copper(t))
		require.NoError(t, err, phase.ID)
		assert.Equal(t, phase.ID, back.ID)
		assert.Len(t, back.Lines, len(phase.Lines), phase.ID)
		require.NoError(t, listfile.Write(&again, []refdata.Phase{back}))
		assert.Equal(t, out.String(), again.String(), phase.ID)
	}
}

// What the user declares a solid solution is one for screening and for every beam, and is told where the reference data are.
func TestDeclaredSolidSolution(t *testing.T) {
	lib := library.Merge(library.Starter())
	i, _ := lib.Find("zincite")
	require.False(t, lib.Entry(i).SolidSolution)
	lib.DeclareSolidSolution(i)
	assert.True(t, lib.Entry(i).SolidSolution)
	p, err := lib.Phase(i, copper(t))
	require.NoError(t, err)
	assert.True(t, p.SolidSolution)
	assert.Equal(t, "declared a solid solution: zincite", lib.Sources()[1].File)
	other, err := library.Starter().Phase(i, copper(t))
	require.NoError(t, err)
	assert.False(t, other.SolidSolution, "another library does not know")
}
