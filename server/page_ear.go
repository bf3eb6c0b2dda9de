package server

import (
	"bytes"
	"errors"
	"fmt"
	"hash/fnv"
	"html/template"
	"io"
	"math"
	"math/rand/v2"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/gopxl/beep/v2"
	"github.com/gopxl/beep/v2/wav"

	"rollingboil/scenarios/physics"
)

// The lid ear: somebody taps a lid that cannot be seen through, and the learner
// says whether it is sealed, from the sound, from its picture, or from pressing it
// instead. A round is named by a number, from which everything about it follows,
// so that nothing of it needs keeping.

// tapRate is samples a second: twice the highest mode of a lid drawn down, and small
// enough for a slow phone.
const tapRate = 24000

// round is one lid to judge.
type round struct {
	N     uint64
	State physics.LidState
}

func roundOf(n uint64) round {
	h := fnv.New64a()
	fmt.Fprintf(h, "lid %d", n)
	states := []physics.LidState{physics.Sealed, physics.Unsealed, physics.FoodTouching, physics.Unsealed}
	return round{n, states[h.Sum64()>>8%uint64(len(states))]}
}

func readRound(text string) (round, error) {
	n, err := strconv.ParseUint(text, 10, 32)
	if err != nil {
		return round{}, errNoPage
	}
	return roundOf(n), nil
}

type earPage struct {
	page
	Round   uint64
	How     string // hear, see or press
	Ways    []earWay
	Picture template.HTML
	Words   []string
	Told    *earTold
	Tally   *earTally
	Next    uint64
}

type earWay struct {
	ID, Name string
	Here     bool
}

var earWays = []earWay{{ID: "hear", Name: "Listen"}, {ID: "see", Name: "Look at the sound"}, {ID: "press", Name: "Press the lid instead"}}

// earTold is what is said to an answer.
type earTold struct {
	Right          bool
	Heading, Truth string
}

func (s *Server) earPage(c *gin.Context) error {
	how := c.Query("how")
	if c.Query("round") == "" {
		return s.showEar(c, http.StatusOK, roundOf(uint64(rand.Uint32())), how, nil)
	}
	r, err := readRound(c.Query("round"))
	if err != nil {
		return err
	}
	return s.showEar(c, http.StatusOK, r, how, nil)
}

func (s *Server) showEar(c *gin.Context, status int, r round, how string, told *earTold) error {
	data := earPage{page: newPage("Can you hear a seal?", "/bench/ear"), Round: r.N, How: "hear", Told: told, Next: uint64(rand.Uint32())}
	for _, w := range earWays {
		if w.ID == how {
			data.How = how
		}
	}
	for _, w := range earWays {
		w.Here = w.ID == data.How
		data.Ways = append(data.Ways, w)
	}
	var err error
	if data.Picture, data.Words, err = earPicture(r); err != nil {
		return err
	}
	if data.How == "press" {
		data.Words = pressWords(r)
	}
	if data.Tally, err = s.tally(c); err != nil {
		return err
	}
	return s.write(c.Writer, c.Request, status, "ear", data)
}

const earTallyKey = "ear"

// answerEar tells whether the answer was right, counts it for this visit, and says
// what the lid was.
func (s *Server) answerEar(c *gin.Context) error {
	if err := c.Request.ParseForm(); err != nil {
		return formError(err)
	}
	form := c.Request.PostForm
	r, err := readRound(form.Get("round"))
	if err != nil {
		return err
	}
	said := form.Get("answer")
	if said != "sealed" && said != "unsealed" {
		return s.showEar(c, http.StatusUnprocessableEntity, r, form.Get("how"), &earTold{Heading: "Choose one of the two.", Truth: "Nothing was counted."})
	}
	unsealed := r.State == physics.Unsealed
	right := unsealed == (said == "unsealed")
	counts := s.earCounts(c)
	if counts.last != r.N { // the same round sent twice counts once
		counts.add(r.State, said == "unsealed")
		counts.last = r.N
		callerOf(c.Request.Context()).onlySeen = false
		s.sessions.Put(c.Request.Context(), earTallyKey, counts.String())
	}
	told := &earTold{Right: right, Heading: "That is right.", Truth: earTruth(r.State, form.Get("how"))}
	if !right {
		told.Heading = "Not this one."
	}
	return s.showEar(c, http.StatusOK, r, form.Get("how"), told)
}

func earTruth(state physics.LidState, how string) string {
	switch {
	case state == physics.Unsealed:
		return "This lid was not sealed. It is slack, so it swings slowly and soon stops: a dull, low sound, and it gives when pressed."
	case state == physics.FoodTouching && how == "press":
		return "This lid was sealed, with food against it from below. It sounds dull, but it does not move when pressed: the press test is not fooled by food."
	case state == physics.FoodTouching:
		return "This lid was sealed, with food against it from below. The food makes it heavy and dull, just like a lid that is not sealed. No ear can tell them apart: pressing the lid and looking across it can."
	}
	return "This lid was sealed, with only vapor below it. The vacuum draws it tight, so it rings high and long."
}

// pressWords says what a finger finds, 12 to 24 hours after the canner.
func pressWords(r round) []string {
	if r.State == physics.Unsealed {
		return []string{"You press the middle of the cold lid with a finger.", "It goes down, and comes up again with a click."}
	}
	return []string{"You press the middle of the cold lid with a finger.", "It stays as it is, curved down, and does not move."}
}

// earPicture draws the outline of a tap and says it in words.
func earPicture(r round) (template.HTML, []string, error) {
	samples, err := physics.Tap(r.State, r.N, tapRate)
	if err != nil {
		return "", nil, err
	}
	const slices = 120
	outline, err := physics.Envelope(samples, slices)
	if err != nil {
		return "", nil, err
	}
	loudest, last := 0.0, 0
	for _, v := range outline {
		loudest = max(loudest, v)
	}
	var up, down strings.Builder
	for i, v := range outline {
		if v > loudest/10 {
			last = i
		}
		x := 4 + float64(i)*392/slices
		fmt.Fprintf(&up, "L%.1f %.1f", x, 60-54*v/loudest)
		fmt.Fprintf(&down, "%.1f %.1f", x, 60+54*v/loudest)
		down.WriteByte('|')
	}
	back := strings.Split(strings.TrimSuffix(down.String(), "|"), "|")
	path := "M4 60" + up.String()
	for i := len(back) - 1; i >= 0; i-- {
		path += "L" + back[i]
	}
	seconds := float64(last+1) * float64(len(samples)) / slices / tapRate
	words := []string{
		fmt.Sprintf("After the knock the sound falls to a tenth within %.2f seconds.", seconds),
		fmt.Sprintf("Its note is near %.0f hertz, %s.", math.Round(pitch(samples)/10)*10, height(pitch(samples))),
	}
	says := template.HTMLEscapeString("The outline of the sound over 0.6 seconds. " + strings.Join(words, " "))
	return template.HTML(`<svg class="plot tap" viewBox="0 0 400 120" role="img" aria-label="` + says + `"><path class="area model" d="` + path + `Z"/><path class="line quiet" stroke-width="1" d="M4 60 H396"/></svg>`), words, nil
}

// pitch is the note of a sound from how often it crosses zero before it dies.
func pitch(samples []float64) float64 {
	crossings, first, last := 0, 0, 0
	for i := 1; i < len(samples)/8; i++ {
		if samples[i-1] < 0 && samples[i] >= 0 {
			if crossings == 0 {
				first = i
			}
			crossings, last = crossings+1, i
		}
	}
	if crossings < 2 {
		return 0
	}
	return float64(crossings-1) * tapRate / float64(last-first)
}

func height(hz float64) string {
	switch {
	case hz > 1200:
		return "a high one"
	case hz > 500:
		return "a middling one"
	}
	return "a low one"
}

// earSound sends the sound of a round. It never changes.
func (s *Server) earSound(c *gin.Context) error {
	name, ok := strings.CutSuffix(c.Param("round"), ".wav")
	if !ok {
		return errNoPage
	}
	r, err := readRound(name)
	if err != nil {
		return err
	}
	sound, err := tapSound(r)
	if err != nil {
		return err
	}
	c.Header("Cache-Control", "public, max-age=86400")
	c.Header("Content-Type", "audio/wav")
	http.ServeContent(c.Writer, c.Request, "", time.Time{}, bytes.NewReader(sound))
	return nil
}

// tapSound writes the tap of a round as a WAV file.
func tapSound(r round) ([]byte, error) {
	samples, err := physics.Tap(r.State, r.N, tapRate)
	if err != nil {
		return nil, err
	}
	at := 0
	stream := beep.StreamerFunc(func(out [][2]float64) (n int, ok bool) {
		for n < len(out) && at < len(samples) {
			out[n] = [2]float64{samples[at], samples[at]}
			n, at = n+1, at+1
		}
		return n, n > 0
	})
	var file seekBuffer
	if err := wav.Encode(&file, stream, beep.Format{SampleRate: tapRate, NumChannels: 1, Precision: 2}); err != nil {
		return nil, fmt.Errorf("write the sound of a tap: %w", err)
	}
	return file.data, nil
}

// seekBuffer is a file in memory: the encoder goes back to write the length.
type seekBuffer struct {
	data []byte
	pos  int
}

func (b *seekBuffer) Write(p []byte) (int, error) {
	if missing := b.pos + len(p) - len(b.data); missing > 0 {
		b.data = append(b.data, make([]byte, missing)...)
	}
	b.pos += copy(b.data[b.pos:], p)
	return len(p), nil
}

func (b *seekBuffer) Seek(offset int64, whence int) (int64, error) {
	switch whence {
	case io.SeekCurrent:
		offset += int64(b.pos)
	case io.SeekEnd:
		offset += int64(len(b.data))
	}
	if offset < 0 || offset > int64(len(b.data)) {
		return 0, errors.New("seek outside of what was written")
	}
	b.pos = int(offset)
	return offset, nil
}

// earCounts are the rounds of one visitor, kept in the session.
type earCounts struct {
	hits, misses         int // unsealed lids that were found, and that were not
	falseRing, soundRing int // sealed lids with vapor below: taken for unsealed, and for sealed
	falseDull, soundDull int // sealed lids with food against them
	last                 uint64
}

func (e *earCounts) add(state physics.LidState, saidUnsealed bool) {
	count := map[physics.LidState][2]*int{
		physics.Unsealed:     {&e.hits, &e.misses},
		physics.Sealed:       {&e.falseRing, &e.soundRing},
		physics.FoodTouching: {&e.falseDull, &e.soundDull},
	}[state]
	if saidUnsealed {
		*count[0]++
	} else {
		*count[1]++
	}
}

func (e earCounts) String() string {
	return fmt.Sprint(e.hits, e.misses, e.falseRing, e.soundRing, e.falseDull, e.soundDull, e.last)
}

func (s *Server) earCounts(c *gin.Context) (e earCounts) {
	kept := s.sessions.GetString(c.Request.Context(), earTallyKey)
	if kept == "" {
		return e
	}
	if _, err := fmt.Sscan(kept, &e.hits, &e.misses, &e.falseRing, &e.soundRing, &e.falseDull, &e.soundDull, &e.last); err != nil {
		return earCounts{} // a count of an older form starts anew
	}
	return e
}

// earTally is how well sealed and unsealed were told apart so far.
type earTally struct {
	Hits, Unsealed     int
	FalseAlarms, Sound int
	FalseDull, Dull    int
	HitRate, FalseRate string
}

// tally gives the rates, nil before the first round.
func (s *Server) tally(c *gin.Context) (*earTally, error) {
	e := s.earCounts(c)
	t := &earTally{
		Hits: e.hits, Unsealed: e.hits + e.misses,
		FalseAlarms: e.falseRing + e.falseDull, Sound: e.falseRing + e.soundRing + e.falseDull + e.soundDull,
		FalseDull: e.falseDull, Dull: e.falseDull + e.soundDull,
	}
	if t.Unsealed+t.Sound == 0 {
		return nil, nil
	}
	if t.Unsealed > 0 && t.Sound > 0 {
		d, err := physics.Detection(e.hits, e.misses, t.FalseAlarms, t.Sound-t.FalseAlarms)
		if err != nil {
			return nil, err
		}
		t.HitRate, t.FalseRate = fmt.Sprintf("%.0f %%", d.HitRate*100), fmt.Sprintf("%.0f %%", d.FalseAlarmRate*100)
	}
	return t, nil
}
