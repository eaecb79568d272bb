package library

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
)

func sample() []refdata.Entry {
	return []refdata.Entry{
		{ID: "tin-β", Name: "tin (β)", Formula: "Sn", Elements: refdata.ElementSet{}.With(50), SolidSolution: true, Strong: []refdata.StrongLine{{D: 2.915, Intensity: 100}, {D: 2.793, Intensity: 90}}},
		{ID: "diamond", Elements: refdata.ElementSet{}.With(6).With(98), Preparation: "Polish.", Strong: []refdata.StrongLine{}},
	}
}

func packed(entries []refdata.Entry) []byte {
	var p packer
	for i, e := range entries {
		p.add(uint32(1000*(i+1)), e)
	}
	return p.blob()
}

func TestPackRoundTrip(t *testing.T) {
	want := sample()
	got, err := decodePack(packed(want))
	require.NoError(t, err)
	require.Equal(t, len(want), got.len())
	assert.Equal(t, []uint32{1000, 2000}, got.rows)
	for k, e := range want {
		back := got.entry(k)
		assert.Equal(t, e.ID, got.id(k))
		require.Len(t, back.Strong, len(e.Strong))
		for n, l := range e.Strong {
			assert.Equal(t, l.D, back.Strong[n].D)
			assert.InDelta(t, l.Intensity, back.Strong[n].Intensity, 0.001, "half a step (derived)")
		}
		back.Strong = e.Strong
		assert.Equal(t, e, back)
	}
}

func TestPackCutsTextsWithoutEnd(t *testing.T) {
	e := refdata.Entry{ID: "x", Name: strings.Repeat("n", maxText+9), Formula: "Cu", Preparation: "Polish."}
	got, err := decodePack(packEntry(e))
	require.NoError(t, err)
	back := got.entry(0)
	assert.Len(t, back.Name, maxText)
	assert.Equal(t, []string{"x", "Cu", "Polish."}, []string{back.ID, back.Formula, back.Preparation})
}

// Packing once more changes nothing: what steps of intensity lose is lost the first time.
func TestPackingIsStable(t *testing.T) {
	once, err := decodePack(packEntry(sample()[0]))
	require.NoError(t, err)
	twice, err := decodePack(packEntry(once.entry(0)))
	require.NoError(t, err)
	assert.Equal(t, once, twice)
}

func TestDecodePackRefusesDamage(t *testing.T) {
	blob := packed(sample())
	for n := range len(blob) {
		_, err := decodePack(blob[:n])
		assert.ErrorIs(t, err, errPack, "cut at %d", n)
	}
	for _, bad := range [][]byte{append(blob, 'x'), []byte("\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff"), []byte("\x01\x00\x00\x00")} {
		_, err := decodePack(bad)
		assert.ErrorIs(t, err, errPack)
	}
}

func FuzzDecodePack(f *testing.F) {
	f.Add(packed(sample()))
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, blob []byte) {
		p, err := decodePack(blob)
		if err != nil {
			require.ErrorIs(t, err, errPack)
			return
		}
		for k := range p.len() {
			e := p.entry(k)
			again, err := decodePack(packEntry(e))
			require.NoError(t, err)
			require.Len(t, again.entry(0).Strong, len(e.Strong))
			require.Equal(t, e.ID, again.id(0))
			require.Equal(t, e.Preparation, again.entry(0).Preparation)
		}
	})
}

// BenchmarkDecodePack reports the cost of an entry when a large library is opened.
func BenchmarkDecodePack(b *testing.B) {
	var p packer
	for n := range uint32(packSize) {
		e := refdata.Entry{ID: "synthetic", Name: "synthetic", Formula: "Cu", Strong: make([]refdata.StrongLine, maxStrong)}
		p.add(n, e)
	}
	blob := p.blob()
	for b.Loop() {
		_, err := decodePack(blob)
		require.NoError(b, err)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*packSize), "ns/phase")
}

func TestDecodeBodyRefusesDamage(t *testing.T) {
	raw, err := newEncoder().encode(body{Record: &refdata.Record{ID: "x"}})
	require.NoError(t, err)
	good, err := decodeBody(raw, "x,y,z; -x,-y,-z")
	require.NoError(t, err)
	assert.Equal(t, []string{"x,y,z", "-x,-y,-z"}, good.Record.Operators)
	for n := range len(raw) - 1 {
		_, err := decodeBody(raw[:n], "")
		assert.ErrorIs(t, err, errBody, "cut at %d", n)
	}
	empty, err := newEncoder().encode(body{})
	require.NoError(t, err)
	_, err = decodeBody(empty, "")
	assert.ErrorIs(t, err, errBody)
}
