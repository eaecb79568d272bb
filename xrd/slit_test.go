package xrd_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
)

func ExampleParseSlit() {
	slit, _ := xrd.ParseSlit("fixed:0.50")
	fmt.Println(slit, slit.Value)
	_, err := xrd.ParseSlit("half a degree")
	fmt.Println(err)
	// Output:
	// fixed:0.5 0.5
	// unknown slit "half a degree": give fixed:1.0 (degrees) or automatic:10 (mm lit)
}

func TestParseSlit(t *testing.T) {
	for _, c := range []struct {
		in   string
		want xrd.Slit
	}{
		{"fixed:1.0", xrd.Slit{Mode: xrd.SlitFixed, Value: 1}},
		{" Automatic : 10 ", xrd.Slit{Mode: xrd.SlitAutomatic, Value: 10}},
		{"fixed", xrd.Slit{Mode: xrd.SlitFixed}},
		{"automatic", xrd.Slit{Mode: xrd.SlitAutomatic}},
	} {
		got, err := xrd.ParseSlit(c.in)
		require.NoError(t, err, c.in)
		assert.Equal(t, c.want, got, c.in)
		again, err := xrd.ParseSlit(got.String())
		require.NoError(t, err)
		assert.Equal(t, got, again, "round trip")
	}
	for _, bad := range []string{"", "1.0", "fixed:", "fixed:0", "fixed:-1", "fixed:NaN", "fixed:11", "automatic:inf", "automatic:201", "open:1"} {
		_, err := xrd.ParseSlit(bad)
		assert.ErrorIs(t, err, xrd.ErrUnknownSlit, bad)
	}
	assert.Empty(t, xrd.Slit{}.String())
}
