package server

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/gopxl/beep/v2/wav"

	"rollingboil/scenarios/bench"
	"rollingboil/scenarios/physics"
)

// TestBenchPages: each demonstration answers with its defaults, says that it sets no
// process time, has a picture with words for those who do not see it, and the
// figures as a table.
func TestBenchPages(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	index := s.get("/bench")
	for _, d := range bench.New(course.Grader.Table()).Demos() {
		got := s.get("/bench/" + d.Name)
		if got.StatusCode != http.StatusOK {
			t.Errorf("%s: %d", d.Name, got.StatusCode)
		}
		for _, want := range []string{bench.Explains, `role="img"`, "<table>", "What it leaves out"} {
			if !strings.Contains(got.body, want) {
				t.Errorf("%s: no %q on the page", d.Name, want)
			}
		}
		if !strings.Contains(index.body, `href="/bench/`+d.Name+`"`) {
			t.Errorf("the list does not lead to %s", d.Name)
		}
	}
	if got := s.get("/bench/none"); got.StatusCode != http.StatusNotFound {
		t.Errorf("no demonstration: %d", got.StatusCode)
	}
}

// TestBenchKeepsWhatWasTyped: a value that cannot be read stays in its field, with
// the reason, and nothing is computed with it.
func TestBenchKeepsWhatWasTyped(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	got := s.get("/bench/boiling-point?altitude=high+up")
	if got.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("status %d", got.StatusCode)
	}
	for _, want := range []string{`value="high up"`, "a number such as 12", `aria-invalid="true"`} {
		if !strings.Contains(got.body, want) {
			t.Errorf("no %q on the page", want)
		}
	}
	if strings.Contains(got.body, "water boils at") {
		t.Error("something was computed all the same")
	}
	if got := s.get("/bench/boiling-point?altitude=60000+ft"); got.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("an altitude outside of the model: %d", got.StatusCode)
	}
	if got := s.get("/bench/vacuum?close=120+C"); got.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(got.body, "These values together") {
		t.Errorf("a lid that closes above the boil: %d", got.StatusCode)
	}
}

// TestBenchReadsNoFiles: the key that names a file is for the command line only.
func TestBenchReadsNoFiles(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	plain := s.get("/bench/lethality")
	if got := s.get("/bench/lethality?curve=/etc/passwd"); got.StatusCode != http.StatusOK || got.body != plain.body {
		t.Errorf("a file's name in the address changes the answer: %d", got.StatusCode)
	}
}

// TestBenchTakesTheVisitorsAltitude that was kept, and the one in the address first.
func TestBenchTakesTheVisitorsAltitude(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	if got := s.post("/altitude", url.Values{"altitude": {"5000 ft"}, "back": {"altitude"}}); got.StatusCode != http.StatusOK {
		t.Fatalf("keep the altitude: %d", got.StatusCode)
	}
	for address, want := range map[string]string{
		"/bench/boiling-point":                    "202.8\u00a0°F", // 202.83: standard atmosphere and IAPWS-IF97
		"/bench/boiling-point?altitude=2000+ft":   "208.3\u00a0°F",
		"/bench/boiling-point?boiling=208.31+F":   "2\u00a0000\u00a0ft",
		"/bench/boiling-point?altitude=&boiling=": "At 6\u00a0240\u00a0ft",
	} {
		if got := s.get(address); !strings.Contains(got.body, want) {
			t.Errorf("%s: no %q on the page", address, want)
		}
	}
}

// TestEarSound: the sound is a WAV file, one channel of 16 bits, of the rate and
// length it was made with, and never changes.
func TestEarSound(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	got := s.get("/bench/ear/7.wav")
	if got.StatusCode != http.StatusOK || got.Header.Get("Content-Type") != "audio/wav" {
		t.Fatalf("%d %s", got.StatusCode, got.Header.Get("Content-Type"))
	}
	// The lengths in the header, which the encoder writes last: RIFF WAVE.
	if size := binary.LittleEndian.Uint32([]byte(got.body)[4:]); int(size) != len(got.body)-8 {
		t.Errorf("the file says %d bytes follow, there are %d", size, len(got.body)-8)
	}
	stream, format, err := wav.Decode(strings.NewReader(got.body))
	if err != nil {
		t.Fatal(err)
	}
	if format.SampleRate != tapRate || format.NumChannels != 1 || format.Precision != 2 || stream.Len() != tapRate*6/10 {
		t.Errorf("%+v, %d samples", format, stream.Len())
	}
	samples, err := physics.Tap(roundOf(7).State, 7, tapRate)
	if err != nil {
		t.Fatal(err)
	}
	frames := make([][2]float64, len(samples))
	if n, _ := stream.Stream(frames); n != len(samples) {
		t.Fatalf("%d of %d samples", n, len(samples))
	}
	for i, f := range frames {
		if d := f[0] - samples[i]; d > 1e-4 || d < -1e-4 {
			t.Fatalf("sample %d is %v, want %v", i, f[0], samples[i])
		}
	}
	if again := s.get("/bench/ear/7.wav"); again.body != got.body {
		t.Error("the sound of a round changes")
	}
	for _, path := range []string{"/bench/ear/7", "/bench/ear/x.wav", "/bench/ear/-1.wav", "/bench/ear/99999999999.wav"} {
		if got := s.get(path); got.StatusCode != http.StatusNotFound {
			t.Errorf("%s: %d", path, got.StatusCode)
		}
	}
}

// roundWith finds a round with a lid of the state.
func roundWith(t *testing.T, state physics.LidState, after uint64) uint64 {
	t.Helper()
	for n := after + 1; n < after+200; n++ {
		if roundOf(n).State == state {
			return n
		}
	}
	t.Fatalf("no round is %s", state)
	return 0
}

// TestEarCounts: hits and false alarms are counted as signal detection has them,
// each round once, and food against a sealed lid counts as a sealed one.
func TestEarCounts(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	answer := func(n uint64, answer string) response {
		return s.post("/bench/ear", url.Values{"round": {fmt.Sprint(n)}, "how": {"see"}, "answer": {answer}})
	}
	slack, ringing, dull := roundWith(t, physics.Unsealed, 0), roundWith(t, physics.Sealed, 0), roundWith(t, physics.FoodTouching, 0)
	if got := answer(slack, "unsealed"); !strings.Contains(got.body, "That is right.") || !strings.Contains(got.body, "1 of 1") {
		t.Error("a found unsealed lid is not a hit")
	}
	if got := answer(slack, "unsealed"); !strings.Contains(got.body, "1 of 1") {
		t.Error("the same round sent twice counts twice")
	}
	if got := answer(ringing, "sealed"); !strings.Contains(got.body, "0 of 1, 0 %") {
		t.Error("a sealed lid that was told is counted as a false alarm")
	}
	got := answer(dull, "unsealed")
	for _, want := range []string{"Not this one.", "with food against it", "1 of 2, 50 %", "1 of 1"} {
		if !strings.Contains(got.body, want) {
			t.Errorf("after a false alarm: no %q on the page", want)
		}
	}
	if got := answer(slack, ""); got.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(got.body, "Choose one of the two.") {
		t.Errorf("no answer: %d", got.StatusCode)
	}
	if got := s.post("/bench/ear", url.Values{"round": {"x"}, "answer": {"sealed"}}); got.StatusCode != http.StatusNotFound {
		t.Errorf("no round: %d", got.StatusCode)
	}
}

// TestEarGivesNothingAway: before the answer the page does not say what the lid is,
// whichever way it is judged, and no sound plays by itself (WCAG 2.2, 1.4.2).
func TestEarGivesNothingAway(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	for _, state := range []physics.LidState{physics.Sealed, physics.Unsealed, physics.FoodTouching} {
		for _, how := range []string{"hear", "see", "press"} {
			got := s.get(fmt.Sprintf("/bench/ear?round=%d&how=%s", roundWith(t, state, 40), how))
			if strings.Contains(got.body, "This lid was") || strings.Contains(got.body, "autoplay") || got.StatusCode != http.StatusOK {
				t.Errorf("%s, %s: %d", state, how, got.StatusCode)
			}
			if how == "see" && !strings.Contains(got.body, "hertz") {
				t.Errorf("%s: the sound is not in words", state)
			}
		}
	}
	// What a finger finds is the same for both kinds of sealed lid: pressing is not
	// fooled by food (USDA AIB 539, testing jar seals).
	press := func(state physics.LidState) string {
		return strings.Join(pressWords(roundOf(roundWith(t, state, 0))), " ")
	}
	if press(physics.Sealed) != press(physics.FoodTouching) || press(physics.Sealed) == press(physics.Unsealed) {
		t.Error("pressing does not tell sealed from unsealed")
	}
}

func TestSeekBuffer(t *testing.T) {
	t.Parallel()
	var b seekBuffer
	for _, step := range []struct {
		offset int64
		whence int
		write  string
		want   string
	}{{0, 0, "hello world", "hello world"}, {0, 0, "J", "Jello world"}, {-5, 2, "earth and", "Jello earth and"}, {0, 2, "!", "Jello earth and!"}} {
		if _, err := b.Seek(step.offset, step.whence); err != nil {
			t.Fatal(err)
		}
		if n, err := b.Write([]byte(step.write)); err != nil || n != len(step.write) {
			t.Fatal(n, err)
		}
		if !bytes.Equal(b.data, []byte(step.want)) {
			t.Fatalf("%q, want %q", b.data, step.want)
		}
	}
	if _, err := b.Seek(-1, 0); err == nil {
		t.Error("a place before the beginning")
	}
}

func BenchmarkBenchPage(b *testing.B) {
	s := newSite(b)
	for _, path := range []string{"boiling-point", "jars", "heating", "heating?then=cooling", "lid", "ear/7.wav", "ear?how=see"} {
		b.Run(path, func(b *testing.B) {
			benchmark(b, func() (*http.Response, error) { return s.client.Get(s.URL + "/bench/" + path) })
		})
	}
}
