package series

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
)

// TestFingerprintHasEveryField: whatever is changed in a job gives another fingerprint, also a field that is new, but for
// those that follow from others or change no answer.
func TestFingerprintHasEveryField(t *testing.T) {
	free := map[string]string{
		".Measurement.Scan": "told by the hash of its bytes", ".Measurement.File": "the same bytes under another name",
		".Search.Collection": "told by the reference data", ".Workers": "changes no answer", ".Begin": "a start, no answer", ".Progress": "told, and steers nothing",
		".Provenance.Command": "how it was asked for", ".Provenance.Settings": "how it was asked for",
		".Provenance.Given": "how it was asked for", ".Provenance.Started": "a clock", ".Provenance.ElapsedS": "a clock",
	}
	base := analysis.Job{Measurement: analysis.Measurement{SHA256: "x", Blank: &xrd.Scan{}}, Search: analysis.Search{Collection: library.Starter()},
		Standards: analysis.Standards{Spike: &analysis.Spike{}, External: &analysis.External{}}}
	known := fingerprint(base)
	assert.NotEmpty(t, known)
	tried := 0
	each(reflect.ValueOf(&base).Elem(), "", func(path string, v reflect.Value) {
		if _, ok := free[path]; ok {
			return
		}
		before := reflect.New(v.Type()).Elem()
		before.Set(v)
		if !change(v) {
			assert.Fail(t, "cannot change", path)
			return
		}
		assert.NotEqual(t, known, fingerprint(base), path)
		tried++
		v.Set(before)
	})
	assert.Greater(t, tried, 60)
	assert.Equal(t, known, fingerprint(base))
	base.Thickness = math.NaN()
	assert.Empty(t, fingerprint(base), "nothing is known to be the same")
}

// TestFingerprintWithoutHash: a scan whose bytes are not known is told by its points.
func TestFingerprintWithoutHash(t *testing.T) {
	var a, b analysis.Job
	a.Scan.Intensity, b.Scan.Intensity = []float64{1, 2}, []float64{1, 3}
	assert.NotEqual(t, fingerprint(a), fingerprint(b))
}

// each calls what for every field that holds no further ones.
func each(v reflect.Value, path string, what func(string, reflect.Value)) {
	if v.Kind() == reflect.Pointer && !v.IsNil() && v.Elem().Kind() == reflect.Struct {
		v = v.Elem()
	}
	if v.Kind() != reflect.Struct || path == ".Measurement.Scan" || strings.HasPrefix(v.Type().PkgPath(), "time") {
		what(path, v)
		return
	}
	for i := range v.NumField() {
		if f := v.Type().Field(i); f.IsExported() {
			each(v.Field(i), path+"."+f.Name, what)
		}
	}
}

// change makes a value another one.
func change(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.String:
		v.SetString(v.String() + "x")
	case reflect.Float64:
		v.SetFloat(v.Float() + 1)
	case reflect.Int:
		v.SetInt(v.Int() + 1)
	case reflect.Uint64:
		v.SetUint(v.Uint() + 1)
	case reflect.Bool:
		v.SetBool(!v.Bool())
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), v.Len()+1, v.Len()+1))
	case reflect.Array:
		return change(v.Index(0))
	case reflect.Map:
		m := reflect.MakeMap(v.Type())
		m.SetMapIndex(reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem())
		v.Set(m)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
	case reflect.Interface:
		return false
	default:
		return false
	}
	return true
}
