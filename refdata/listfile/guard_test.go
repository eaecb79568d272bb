package listfile_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/listfile"
	"phasetally/xrd"
)

// What no crystal has is refused with its line, before it makes a confident wrong number; what some have is taken. Densities
// and I/Ic of gold (from memory): 19.3 g/cm³, about 18.
func TestImplausibleListsAreRefused(t *testing.T) {
	for text, want := range map[string]error{
		"phase,d,intensity,rir,density\ngold,2.355,100,18.1,19.3\n":                            nil,
		"phase,d,intensity,rir\nx,2.355,100,1000000\n":                                         listfile.ErrNumber,
		"phase,d,intensity,density\nx,2.355,100,50\n":                                          listfile.ErrNumber,
		"phase,d,intensity,density\nx,2.355,100,0.001\n":                                       listfile.ErrNumber,
		"phase,formula,d,intensity,a,z,density\ngold,Au,2.355,100,4.0786,4,19.3\n":             nil,
		"phase,formula,d,intensity,a,z,density\ngold,Au,2.355,100,4.0786,4,14\n":               listfile.ErrConflict,
		"phase,formula,d,intensity,a,alpha,beta,gamma\nx,Au,2,100,4,119.999,119.999,119.999\n": listfile.ErrNumber,
		"phase,d,intensity,h,k,l\nx,2,100,1,1,1\nx,2,100,1,1,1\n":                              listfile.ErrTwice,
		"phase,d,intensity\nx,2,100\nx,1.5,40\nx,2,100\nx,1.5,40\n":                            listfile.ErrTwice,
		"phase,d,intensity,h,k,l\nx,2,100,5,1,1\nx,2,30,3,3,3\n":                               nil, // coinciding reflections
		"phase,d,intensity\n" + strings.Repeat("x", 20000) + ",2,100\n":                        listfile.ErrNumber,
	} {
		_, err := listfile.Read(strings.NewReader(text), "a.csv")
		if want == nil {
			assert.NoError(t, err, text)
			continue
		}
		var at *xrd.SyntaxError
		require.ErrorAs(t, err, &at, "%.80s", text)
		if len(text) < 1000 {
			assert.ErrorIs(t, err, want, text)
		}
		assert.NotZero(t, at.Line, "%.80s", text)
		assert.Less(t, len(err.Error()), 400)
	}
}

// A list that is written from a doubtful structure stays doubtful.
func TestCautionsSurviveAList(t *testing.T) {
	p := full(t)
	p.Cautions = []xrd.Caution{
		{Code: "structure-operators", Severity: xrd.SeverityCaution, Text: "P -1 has 2 operators, the loop 4; the loop was taken."},
		{Code: "structure-b-default", Severity: xrd.SeverityNote, Text: "no displacement"},
		{Code: "structure-contact", Severity: xrd.SeverityCaution, Text: "a | b are close"},
	}
	var out bytes.Buffer
	require.NoError(t, listfile.Write(&out, []refdata.Phase{p}))
	lists, err := listfile.Read(&out, "a.csv")
	require.NoError(t, err)
	again, err := lists[0].Phase(p.Beam)
	require.NoError(t, err)
	require.Len(t, again.Cautions, 2)
	assert.Equal(t, "structure-operators", again.Cautions[0].Code)
	assert.Equal(t, p.Cautions[0].Text, again.Cautions[0].Text)
	assert.Equal(t, xrd.SeverityCaution, again.Cautions[1].Severity)
	assert.Equal(t, "a / b are close", again.Cautions[1].Text)

	lists, err = listfile.Read(strings.NewReader("phase,d,intensity,cautions\nx,2,100,taken from a poster\n"), "a.csv")
	require.NoError(t, err)
	assert.Equal(t, "structure-stated", lists[0].Cautions[0].Code)
	assert.Equal(t, "taken from a poster", lists[0].Cautions[0].Text)
}

// One formula unit in the cell is as sure a statement as several; a part of one says that the formula is of a larger cell.
func TestDensityOfOneUnitInTheCell(t *testing.T) {
	list := func(z, density string) string {
		return "phase,d,intensity,formula,a,z,density\npolonium type,3.0,100,Cu,3.0," + z + "," + density + "\npolonium type,2.1213,50,,,,\n"
	}
	_, err := listfile.Read(strings.NewReader(list("1", "3.9")), "one.csv") // 63.55 g/mol in 27 Å³: 3.91 g/cm³
	require.NoError(t, err)
	_, err = listfile.Read(strings.NewReader(list("1", "7.8")), "one.csv")
	require.ErrorIs(t, err, listfile.ErrConflict)
	_, err = listfile.Read(strings.NewReader(list("0.5", "1.95")), "one.csv")
	require.NoError(t, err)
}
