package series

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd/result"
)

// A scan that nothing explains tells of no phase that it is not there; one that is explained, if only in part, does.
func TestUnexplainedScansJudgeNoPhase(t *testing.T) {
	limit := 0.5
	for verdict, want := range map[result.Verdict]result.Evidence{result.Complete: result.Unseen, result.Partial: result.Unseen, result.None: result.NotJudged} {
		doc := result.Document{Peaks: []result.Peak{{TwoTheta: 30}}, Explanation: &result.Explanation{Verdict: verdict}, NotDetected: []result.NotDetected{{ID: "tin", DetectionLimit: &limit}}}
		e := entryOf(doc, []string{"tin"})
		assert.Equal(t, want, e.Phases[0].Evidence, verdict)
		assert.False(t, e.Phases[0].Detected)
		assert.Equal(t, verdict == result.None, e.Phases[0].DetectionLimit == nil, "no limit without an explanation")
		s := result.Series{Phases: []result.SeriesPhase{{ID: "tin"}}, Scans: []result.SeriesEntry{e}}
		summarise(&s)
		assert.Equal(t, verdict != result.None, s.Phases[0].Answers == 1, "what is not judged is no answer")
	}
}
