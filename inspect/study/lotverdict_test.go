package study

import (
	"strings"
	"testing"

	"jigloupe/inspect"
)

func TestJudgeLot(t *testing.T) {
	s, err := NewSampling(200, 2.5, "II", false) // letter G: 32 pieces, accept 2
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		looked, faulty, close int
		want                  LotOutcome
		says                  string
	}{
		{0, 0, 0, LookMore, "look at 32 of the 200"},
		{20, 1, 0, LookMore, "look at 12 more"},
		{20, 3, 0, RefuseLot, "Refuse the lot: 3 of 20"},
		{32, 2, 0, AcceptLot, "Accept the lot: 2 of 32"},
		{32, 2, 1, AcceptLot, "hangs by close calls"},
		{32, 3, 0, RefuseLot, "at most 2 may be"},
		{40, 2, 0, AcceptLot, "More pieces were judged"},
	} {
		v := judged(t, s, Oversight{}, c.looked, c.faulty, c.close)
		if v.Outcome != c.want || !strings.Contains(strings.Join(v.Says, "\n"), c.says) {
			t.Errorf("%+v: %q, %q", c, v.Outcome, v.Says)
		}
		if (v.Share == nil) != (c.looked == 0) {
			t.Errorf("%+v: share %v", c, v.Share)
		}
	}
	// 8 of 32 called faulty, of which 10 % of good pieces: with nothing missed the bounds move down accordingly.
	plain, corrected := judged(t, s, Oversight{}, 32, 8, 0), judged(t, s, Oversight{False: 0.1}, 32, 8, 0)
	if want := (plain.Share.Hi - 0.1) / 0.9; !near(corrected.Share.Hi, want, 1e-12) {
		t.Errorf("share up to %.4f, want %.4f", corrected.Share.Hi, want)
	}
	if v := judged(t, Sampling{LotSize: 5, N: 5}, Oversight{Missed: 0.95}, 0, 0, 0); !strings.Contains(strings.Join(v.Says, "\n"), "even a lot that is all faulty") {
		t.Errorf("says %q", v.Says)
	}
	if one, err := NewSampling(50, 2.5, "II", false); err != nil || !strings.Contains(strings.Join(judged(t, one, Oversight{}, 0, 0, 0).Says, "\n"), "with 1 faulty piece, just") {
		t.Errorf("the AQL of one piece: %v %q", err, judged(t, one, Oversight{}, 0, 0, 0).Says)
	}
	for _, c := range [][2]int{{3, 4}, {201, 0}, {3, -1}} {
		if _, err := JudgeLot(s, Oversight{}, c[0], c[1], 0); err == nil {
			t.Errorf("%d faulty of %d looked at in a lot of 200: want an error", c[1], c[0])
		}
	}
	for _, c := range [][2]float64{{-1, 0}, {0, -1}, {60, 40}} {
		if _, err := NewOversight(c[0], c[1]); err == nil {
			t.Errorf("%v %% missed and %v %% false: want an error", c[0], c[1])
		}
	}
	if o, err := NewOversight(5, 2); err != nil || o != (Oversight{0.05, 0.02}) {
		t.Errorf("NewOversight(5, 2) = %+v, %v", o, err)
	}
}

func judged(t *testing.T, s Sampling, o Oversight, looked, faulty, close int) LotVerdict {
	t.Helper()
	v, err := JudgeLot(s, o, looked, faulty, close)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestSample(t *testing.T) {
	pieces := []inspect.Piece{
		{Verdict: inspect.Pass}, {Verdict: inspect.Fail}, {Verdict: inspect.Retake},
		{Verdict: inspect.Pass, Reasons: []inspect.Reason{{CloseCall: true}, {CloseCall: true}}},
	}
	if looked, faulty, close := Sample(pieces); looked != 3 || faulty != 1 || close != 1 {
		t.Errorf("Sample = %d, %d, %d, want 3, 1, 1", looked, faulty, close)
	}
}
