package resultfile

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"phasetally/xrd/result"
)

// numbers writes a float that is not finite as null, at any depth and inside any settings value, because JSON has
// neither NaN nor infinity and an unknown quantity must not read as 0.
var numbers = json.MarshalToFunc(func(e *jsontext.Encoder, v float64) error {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return e.WriteToken(jsontext.Null)
	}
	return e.WriteToken(jsontext.Float(v))
})

// unknowns reads null into a plain float as NaN, so that writing it again gives null again.
var unknowns = json.UnmarshalFromFunc(func(d *jsontext.Decoder, v *float64) error {
	if d.PeekKind() == 'n' {
		*v = math.NaN()
		return d.SkipValue()
	}
	return json.SkipFunc
})

// JSON returns analysis.json: the document with the keys of its schema in their order, indented by one space, empty
// lists as [] and everything unknown as null. Invalid UTF-8 in a name becomes U+FFFD. A settings value that has no
// JSON form is the only error.
func JSON(doc result.Document) ([]byte, error) {
	out, err := json.Marshal(doc, json.WithMarshalers(numbers), json.Deterministic(true),
		jsontext.AllowInvalidUTF8(true), jsontext.WithIndent(" "))
	if err != nil {
		return nil, fmt.Errorf("analysis.json: %w", err)
	}
	return append(out, '\n'), nil
}

// errNoResult says that a file is not what an analysis wrote.
var errNoResult = errors.New("not a result")

// parseDocument is the inverse of JSON.
func parseDocument(in []byte) (doc result.Document, err error) {
	err = json.Unmarshal(in, &doc, json.WithUnmarshalers(unknowns), jsontext.AllowInvalidUTF8(true))
	var unfit *json.SemanticError
	switch {
	case errors.As(err, &unfit):
		err = fmt.Errorf("%w: the value at %q is of another kind", errNoResult, cmp.Or(string(unfit.JSONPointer), "/"))
	case err != nil:
		err = fmt.Errorf("%w: %s", errNoResult, strings.TrimPrefix(strings.TrimPrefix(err.Error(), "jsontext: "), "json: "))
	case doc.Schema != result.Schema:
		err = fmt.Errorf("schema %q, expected %q", doc.Schema, result.Schema)
	}
	return doc, err
}
