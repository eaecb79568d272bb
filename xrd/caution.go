package xrd

// Severity ranks a caution.
type Severity string

// The severities: a note informs, a caution names what may be wrong, a stop says that the answer must not be used as it is.
const (
	SeverityNote    Severity = "note"
	SeverityCaution Severity = "caution"
	SeverityStop    Severity = "stop"
)

// A Caution is a doubt with its evidence and its remedy. Codes are listed in DEVELOPERS.md and never change meaning.
type Caution struct {
	Code     string         `json:"code"`     // short and stable
	Severity Severity       `json:"severity"` // how grave it is
	Text     string         `json:"text"`     // what is doubtful, for people
	Remedy   string         `json:"remedy"`   // what to do about it
	Evidence map[string]any `json:"evidence"` // the numbers behind the text
}
