package library

import (
	"encoding/binary"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
)

func sample() []refdata.Entry {
	return []refdata.Entry{
		{ID: "tin-β", Name: "tin (β)", Formula: "Sn", Elements: refdata.ElementSet{}.With(50), Soluble: true, Strong: []refdata.StrongLine{{D: 2.915, Intensity: 100}, {D: 2.793, Intensity: 90}}},
		{ID: "diamond", Elements: refdata.ElementSet{}.With(6).With(98), Preparation: "Polish.", Strong: []refdata.StrongLine{}},
	}
}

func packed(entries []refdata.Entry) string {
	var b []byte
	for i, e := range entries {
		b = append(binary.AppendUvarint(b, uint64(1000*(i+1))), packEntry(e)...)
	}
	return string(b)
}

func TestPackRoundTrip(t *testing.T) {
	want := sample()
	got, rows := make([]refdata.Entry, 2), make([]int64, 2)
	require.NoError(t, unpack(packed(want), got, rows))
	assert.Equal(t, want, got)
	assert.Equal(t, []int64{1000, 2000}, rows)
}

func TestUnpackRefusesDamage(t *testing.T) {
	blob := packed(sample())
	for n := range len(blob) {
		assert.ErrorIs(t, unpack(blob[:n], make([]refdata.Entry, 2), make([]int64, 2)), errPack, "cut at %d", n)
	}
	assert.ErrorIs(t, unpack(blob+"x", make([]refdata.Entry, 2), make([]int64, 2)), errPack)
	assert.ErrorIs(t, unpack("\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff", make([]refdata.Entry, 1), make([]int64, 1)), errPack)
}

func FuzzUnpack(f *testing.F) {
	f.Add(packed(sample()), 2)
	f.Add("", 0)
	f.Fuzz(func(t *testing.T, blob string, n int) {
		if n < 0 || n > len(blob)/minEntry {
			return
		}
		entries, rows := make([]refdata.Entry, n), make([]int64, n)
		if err := unpack(blob, entries, rows); err != nil {
			require.ErrorIs(t, err, errPack)
			return
		}
		for _, e := range entries {
			again := make([]refdata.Entry, 1)
			require.NoError(t, unpack("\x01"+string(packEntry(e)), again, make([]int64, 1)))
			require.Equal(t, len(e.Strong), len(again[0].Strong))
			require.Equal(t, e.ID, again[0].ID)
		}
	})
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

func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"abc", "", 3}, {"tin", "tin", 0}, {"tin", "tni", 1}, {"quarz", "quartz", 1}, {"kitten", "sitting", 3}} {
		assert.Equal(t, c.want, distance(c.a, c.b), "%s %s", c.a, c.b)
		assert.Equal(t, c.want, distance(c.b, c.a), "%s %s", c.b, c.a)
	}
}
