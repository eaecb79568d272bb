package calibrate_test

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/calibrate"
)

// The JSON holds what the instrument file holds, and every line; unknown numbers are null.
func TestCalibrationJSON(t *testing.T) {
	r := calibrated(t, ordinary(0), find(t, "silicon"))
	r.Lines[0].ObservedU = math.NaN()
	var b, file bytes.Buffer
	require.NoError(t, r.WriteJSON(&b))
	var doc struct {
		Schema     string
		Usable     bool
		Instrument map[string]any
		Lines      []map[string]any
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &doc))
	assert.Equal(t, calibrate.DocumentSchema, doc.Schema)
	assert.True(t, doc.Usable)
	require.Len(t, doc.Lines, len(r.Lines))
	assert.Nil(t, doc.Lines[0]["observed_u"])
	assert.Equal(t, r.Lines[3].Observed, doc.Lines[3]["observed"])
	require.NoError(t, calibrate.WriteInstrument(&file, r.Instrument, r.About()))
	ins, about, err := calibrate.ReadInstrument(&file, "x.toml")
	require.NoError(t, err)
	assert.Equal(t, ins.Zero, doc.Instrument["zero"])
	assert.Equal(t, ins.LorentzStrain, doc.Instrument["lorentz_strain"])
	assert.Equal(t, about.Standard, doc.Instrument["standard"])
}
