package structure_test

import (
	"encoding/csv"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/structure"
)

func TestParseOperator(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"x,y,z", "x,y,z"}, {"-Y, X-Y, Z+1/2", "-y,x-y,z+1/2"}, {"1/2+x,.5-y,-z", "x+1/2,-y+1/2,-z"}, {"+x,+y,-1/4+z", "x,y,z+3/4"},
		{"x+0.3333,y+0.6667,z+.333", "x+1/3,y+2/3,z+1/3"}, {"x+4/3,y-1/3,z+2", "x+1/3,y+2/3,z"}, {"2*x-y,x,z", "2*x-y,x,z"}, {"2x-y , x , z", "2*x-y,x,z"},
		{"x+1/4+1/4,y,z", "x+1/2,y,z"}, {"x;y;z", "x,y,z"}, {"x+1/5,y,z", "x+0.2,y,z"}, {"x+1/8,y+5/6,z+1/24", "x+1/8,y+5/6,z+1/24"},
	} {
		op, err := structure.ParseOperator(c.text)
		require.NoError(t, err, c.text)
		assert.Equal(t, c.want, op.String(), c.text)
		again, err := structure.ParseOperator(op.String())
		require.NoError(t, err)
		assert.Equal(t, op.R, again.R)
		assert.InDeltaSlice(t, op.T[:], again.T[:], 1e-12)
	}
	for _, text := range []string{"", "x,y", "x,y,z,t", "x,y,w", "yx,y,z", "x,zyx,z", "x,y--z,z", "x,y,z-", "x,x,z", "x,y,0", "x,y,z+1/0", "x,y,z+", "x,y,z+1/2/3", "4*x,y,z", "x,y,.5x+z", "x,y,z+1e3", "x,y,z+.", "x,y,z+900", strings.Repeat("x", 300)} {
		_, err := structure.ParseOperator(text)
		assert.ErrorIs(t, err, structure.ErrOperator, text)
	}
}

func TestOperatorApply(t *testing.T) {
	op, err := structure.ParseOperator("-y,x-y,z+1/3")
	require.NoError(t, err)
	image := op.Apply([3]float64{0.1, 0.2, 0.5})
	assert.InDeltaSlice(t, []float64{-0.2, -0.1, 5.0 / 6}, image[:], 1e-15)
}

// settingRows returns the embedded table: number, symbol, qualifier, Hall symbol, order.
func settingRows(t testing.TB) [][]string {
	f, err := os.Open("data/settings.csv")
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 560)
	return rows[1:]
}

// Every Hall symbol gives as many operators as its setting has, and they form a group.
func TestAllHallSymbols(t *testing.T) {
	for _, row := range settingRows(t) {
		ops, err := structure.HallOperators(row[3])
		require.NoError(t, err, row)
		order, _ := strconv.Atoi(row[4])
		require.Len(t, ops, order, row)
		assertGroup(t, ops, row[3])
	}
}

// assertGroup checks closure on a sample: every product of the first, middle and last operators is among them, and none is twice.
func assertGroup(t *testing.T, ops []structure.Operator, name string) {
	texts := map[string]bool{}
	for _, op := range ops {
		texts[op.String()] = true
	}
	require.Len(t, texts, len(ops), "%s: an operator twice", name)
	for _, i := range []int{0, 1, len(ops) / 2, len(ops) - 1} {
		for _, b := range ops {
			a := ops[min(i, len(ops)-1)]
			require.True(t, texts[product(a, b).String()], "%s: %s times %s is missing", name, a, b)
		}
	}
}

// product multiplies operators anew, so that the package does not judge itself.
func product(a, b structure.Operator) structure.Operator {
	var c structure.Operator
	for i := range 3 {
		c.T[i] = a.Apply(b.T)[i] + 10
		c.T[i] -= float64(int(c.T[i] + 1e-7))
		for j := range 3 {
			for k := range 3 {
				c.R[3*i+j] += a.R[3*i+k] * b.R[3*k+j]
			}
		}
	}
	for i := range c.T {
		if c.T[i] < 1e-6 {
			c.T[i] = 0
		}
	}
	return c
}

// General positions of International Tables A (from memory), one generator that tells each group from its neighbours.
func TestOperatorsOfInternationalTables(t *testing.T) {
	for _, c := range []struct{ hall, operator string }{
		{"P 31 2 (0 0 4)", "-y,-x,-z+2/3"},       // 151, P 31 1 2, (4)
		{"P 32 2\"", "y,x,-z"},                   // 154, P 32 2 1, (4)
		{"P 61 2 (0 0 5)", "y,x,-z+1/3"},         // 178, P 61 2 2, (7)
		{"-R 3 2\"c", "y,x,-z+1/2"},              // 167, R -3 c, (4)
		{"-P 2ybc", "-x,y+1/2,-z+1/2"},           // 14, P 21/c, (2)
		{"-P 2ac 2n", "-x+1/2,-y,z+1/2"},         // 62, P n m a, (2)
		{"-F 4vw 2vw 3", "-x+3/4,-y+1/4,z+1/2"},  // 227:2, (2)
		{"F 4d 2 3 -1d", "-x+1/4,-y+1/4,-z+1/4"}, // 227:1, (25)
		{"P 4abw 2nw", "-y+1/2,x+1/2,z+1/4"},     // 92, P 41 21 2, (3)
		{"-I 4bd 2c 3", "y+3/4,x+1/4,-z+1/4"},    // 230, (13)
		{"P 6c -2c", "x-y,x,z+1/2"},              // 186, P 63 m c, (6)
		{"I 4bw -2", "-y,x+1/2,z+1/4"},           // 109, I 41 m d, (3)
		{"-P 6c 2c", "x,y,-z+1/2"},               // 194, P 63/m m c, (16)
		{"-P_2ac_2n", "-x+1/2,-y,z+1/2"},         // blanks as underscores
		{"P 2y (z,x,y)", "-x,-y,z"},              // derived: the old y is the new z
		{"P 2y (3 0 0)", "-x+1/2,y,-z"},          // derived: axis moved by a/4
	} {
		ops, err := structure.HallOperators(c.hall)
		if assert.NoError(t, err, c.hall) {
			var texts []string
			for _, op := range ops {
				texts = append(texts, op.String())
			}
			assert.Contains(t, texts, c.operator, c.hall)
		}
	}
	for _, bad := range []string{"", "-", "X 2", "P 5", "P 2w x", "P 2'w2", "P 7", "P 3'", "P 31'", "P 2 (1 2)", "P 2 (a b c)", "P 2 (x,y)", "P -", strings.Repeat("P ", 80), "P 4 3 6 -2'", "P 2 (1 2 99999)"} {
		_, err := structure.HallOperators(bad)
		assert.Error(t, err, bad)
	}
}

// The operator loops of the oracle's files were written by another program.
func TestHallAgainstOperatorLoops(t *testing.T) {
	for _, o := range smallOracle(t) {
		list := readFile(t, shared(t, "oracle", "cif", o.Name+".cif"))
		s, err := structure.FromRecord(o.record())
		require.NoError(t, err, o.Name)
		assert.ElementsMatch(t, operatorTexts(list[0]), operatorTexts(s), o.Name)
	}
}

func operatorTexts(s *structure.Structure) (texts []string) {
	for _, op := range s.Operators() {
		texts = append(texts, op.String())
	}
	slices.Sort(texts)
	return texts
}

var (
	cubic      = refdata.Cell{A: 4, B: 4, C: 4, Alpha: 90, Beta: 90, Gamma: 90}
	hexagonal  = refdata.Cell{A: 4, B: 4, C: 7, Alpha: 90, Beta: 90, Gamma: 120}
	rhombic    = refdata.Cell{A: 4, B: 4, C: 4, Alpha: 55, Beta: 55, Gamma: 55}
	monoclinic = refdata.Cell{A: 4, B: 5, C: 6, Alpha: 90, Beta: 100, Gamma: 90}
)

// Every symbol of the table is found under its own name, its qualifier, without blanks, in capitals, and with underscores.
func TestAllSymbols(t *testing.T) {
	for _, row := range settingRows(t) {
		name := row[1]
		if row[2] != "" {
			name += ":" + row[2]
		}
		for _, spelling := range []string{name, strings.ReplaceAll(name, " ", ""), strings.ToUpper(name), strings.ReplaceAll(name, " ", "_"), " '" + name + "' "} {
			found, err := structure.FindSettings(spelling, cubic)
			require.NoError(t, err, spelling)
			assert.True(t, slices.ContainsFunc(found, func(s structure.Setting) bool { return s.Symbol == row[1] && s.Qualifier == row[2] }), "%s: %v", spelling, found)
		}
	}
	assert.Len(t, structure.Settings(), 559)
}

func TestSpellings(t *testing.T) {
	for _, c := range []struct {
		symbol string
		cell   refdata.Cell
		want   string // first choice
		number int
	}{
		{"P6_3mc", hexagonal, "P 63 m c", 186}, {"P 6(3) M C", hexagonal, "P 63 m c", 186}, {"P63mc", hexagonal, "P 63 m c", 186},
		{"P 21/c", monoclinic, "P 1 21/c 1", 14}, {"P2(1)/n", monoclinic, "P 1 21/n 1", 14}, {"P 21/b", monoclinic, "P 1 1 21/b", 14},
		{"C 2/c", monoclinic, "C 1 2/c 1", 15}, {"I 2/a", monoclinic, "I 1 2/a 1", 15}, {"P 2", monoclinic, "P 1 2 1", 3},
		{"F m 3 m", cubic, "F m -3 m", 225}, {"Ia3", cubic, "I a -3", 206}, {"I a 3 d", cubic, "I a -3 d", 230}, {"Pa3", cubic, "P a -3", 205},
		{"F d 3 m:2", cubic, "F d -3 m:2", 227}, {"F d -3 m S", cubic, "F d -3 m:1", 227}, {"F d -3 m Z", cubic, "F d -3 m:2", 227}, {"Fd-3mZ", cubic, "F d -3 m:2", 227},
		{"Fd-3m :1", cubic, "F d -3 m:1", 227}, {"R -3 c", hexagonal, "R -3 c:H", 167}, {"R -3 c", rhombic, "R -3 c:R", 167}, {"R -3 c H", hexagonal, "R -3 c:H", 167},
		{"R3m:r", hexagonal, "R 3 m:R", 160}, {"R-3mH", hexagonal, "R -3 m:H", 166}, {"H -3 c", hexagonal, "R -3 c:H", 167}, {"R -3", cubic, "R -3:R", 148},
		{"P 21/n 21/m 21/a", cubic, "P n m a", 62}, {"F 4/m -3 2/m", cubic, "F m -3 m", 225}, {"P 63/m 2/m 2/c", hexagonal, "P 63/m m c", 194},
		{"R -3 2/c:H", hexagonal, "R -3 c:H", 167}, {"I 41/a 2/m 2/d:2", cubic, "I 41/a m d:2", 141}, {"P 2/m -3", cubic, "P m -3", 200}, {"P m c n", cubic, "P m c n", 62},
		{"C m c e", cubic, "C m c a", 64}, {"A e m 2", cubic, "A b m 2", 39}, {"Aea2", cubic, "A b a 2", 41}, {"P 1 21/c 1:b1", monoclinic, "P 1 21/c 1", 14},
		{"P -1", monoclinic, "P -1", 2}, {"p 4/m m m", cubic, "P 4/m m m", 123},
	} {
		found, err := structure.FindSettings(c.symbol, c.cell)
		if assert.NoError(t, err, c.symbol) {
			assert.Equal(t, c.want, found[0].String(), c.symbol)
			assert.Equal(t, c.number, found[0].Number, c.symbol)
		}
	}
	for _, bad := range []string{"", "X", "P 5", "Q m m m", "P 21/c or so", ":1", "S", "eee"} {
		_, err := structure.FindSettings(bad, cubic)
		assert.ErrorIs(t, err, structure.ErrSpaceGroup, bad)
	}
}

func TestStandardSettings(t *testing.T) {
	for n := 1; n <= 230; n++ {
		found, err := structure.StandardSettings(n, hexagonal)
		require.NoError(t, err)
		assert.Equal(t, n, found[0].Number)
	}
	_, err := structure.StandardSettings(231, cubic)
	assert.ErrorIs(t, err, structure.ErrSpaceGroup)
}
