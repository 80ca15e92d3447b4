package main

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// A joint is eliminated only when those that take over its expansion length keep
// within their seals. J000001 of the invented bridge reads 1.42 in at 80 °F, and
// its seal works to 4 in. With 300 + 20 ft of steel it moves by
// 12 · 6.5e-6 · 320 · cos 10° = 0.02458 in a degree (the published strip seal
// example, see openings), so from 80 °F to 0 °F it opens to 1.42 + 1.97 = 3.39 in:
// 0.61 in to spare. With 300 ft more it would open to 5.11 in.
func TestElimination(t *testing.T) {
	do, db := openings(t)
	for _, ft := range []string{"20", "300"} { // J000005 and J000006
		do("joint", "add", "0001", "--place", "pier", "--movement", "expansion", "--length-ft", "41", "--expansion-length-ft", ft, "--kind", "pourable seal")
	}
	do("joint", "add", "0001", "--place", "pier", "--movement", "fixed", "--length-ft", "41", "--kind", "pourable seal") // J000007
	refuse := func(says string, args ...string) {
		t.Helper()
		code, _, messages := reseal(t, db, append([]string{"decide"}, args...)...)
		if code != exitFailed || !strings.Contains(messages, says) {
			t.Errorf("decide %s: exit %d, %q, want %q", strings.Join(args, " "), code, messages, says)
		}
	}
	why := []string{"--reason", "link slab"}
	refuse("which joints take over", append(why, "J000005", "treatment", "elimination")...)
	refuse("cannot take over from", append(why, "J000005", "treatment", "elimination", "--takes-over", "J000005")...)
	refuse("named twice", append(why, "J000005", "treatment", "elimination", "--takes-over", "J000001,J000001")...)
	refuse("opening cannot be checked", append(why, "J000005", "treatment", "elimination", "--takes-over", "J000006")...)
	refuse("too wide when cold", append(why, "J000006", "treatment", "elimination", "--takes-over", "J000001")...)
	refuse("too wide when cold", append(why, "J000005", "pin", "2027", "--treatment", "elimination", "--takes-over", "J000004")...)
	refuse("does not go with", append(why, "J000005", "treatment", "reseal", "--takes-over", "J000001")...)

	out := do("decide", "J000005", "treatment", "elimination", "--takes-over", "J000001", "--reason", "link slab")
	var cold, hot float64
	if _, err := fmt.Sscanf(out, "J000001 takes over 20.0 ft to its 300.0 ft: to spare %f in when cold, %f in when hot", &cold, &hot); err != nil || math.Abs(cold-0.61) > 0.05 {
		t.Errorf("to spare when cold: got %.2f in, want 0.61 within 0.05 (%v):\n%s", cold, err, out)
	}
	do("decide", "J000007", "treatment", "elimination", "--reason", "deck extension") // it does not move
	if out := do("joint", "retire", "J000005", "--eliminated", "--on", "2026-05-04"); !strings.Contains(out, "J000001 has taken over: its expansion length is now 320.0 ft") {
		t.Errorf("the expansion length did not move:\n%s", out)
	}
	if out := do("joint", "show", "J000001"); !strings.Contains(out, "expansion length ft 320") {
		t.Errorf("on record:\n%s", out)
	}
	if out := do("joint", "show", "J000005"); !strings.Contains(out, "eliminated") {
		t.Errorf("its history:\n%s", out)
	}
	if out := do("joint", "retire", "J000007", "--eliminated", "--on", "2026-05-04"); strings.Contains(out, "taken over") {
		t.Errorf("a joint that does not move handed over:\n%s", out)
	}
}
