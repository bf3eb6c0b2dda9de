package load

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"time"

	"rollingboil/server/store"
)

// password is every student's: that they are all the same helps nobody, since each is
// hashed with a salt of its own.
const password = "kettle harbor velvet"

// Join joins the class under a name that no other student has.
func (s *Student) Join(ctx context.Context) error {
	name := fmt.Sprintf("Student %d of %s", s.book.next(), s.book.Since.UTC().Format("2006-01-02 15:04:05.000"))
	if _, err := s.get(ctx, Page, "/join?code="+url.QueryEscape(s.Class.Code)); err != nil {
		return err
	}
	joins := formTo(Join, "/join", url.Values{"code": {s.Class.Code}, "name": {name}, "password": {password}})
	joins.leadsTo = "/class/" + s.Class.ID
	if _, err := s.send(ctx, joins, accountName(name), memberName(s.Class.ID, name)); err != nil {
		return err
	}
	s.name = name
	return nil
}

var batchAddress = regexp.MustCompile(`^/batches/([a-z0-9]+)/plan$`)

// Batch goes the whole way with the practice batch of the class, as far as a student
// does: it is begun, planned, sent in, recorded, photographed, and sent in again. The
// student must have joined and not have begun it.
func (s *Student) Batch(ctx context.Context) error {
	for _, path := range []string{"/class/" + s.Class.ID, "/batches?assignment=" + s.Class.Assignment} {
		if _, err := s.get(ctx, Page, path); err != nil {
			return err
		}
	}
	leads, err := s.send(ctx, formTo(Begin, "/batches", url.Values{"assignment": {s.Class.Assignment}}), batchName(s.name, s.Class.Assignment))
	if err != nil {
		return err
	}
	found := batchAddress.FindStringSubmatch(leads)
	if found == nil {
		return fmt.Errorf("a batch leads to %q", leads)
	}
	id, at := found[1], "/batches/"+found[1]

	plan, planIs := s.testedPlan()
	plan.Set("after", "0")
	record, recordIs := s.record()
	record.Set("after", "1")
	steps := []struct {
		reads string // the page with the form, unless the page before has it
		request
		leadsTo, name string
	}{
		{at + "/plan", formTo(BatchPlan, at+"/plan", plan), at + "#plan", versionName(id, 1, planIs)},
		{"", formTo(HandIn, at, url.Values{"do": {store.PlanSent}}), at, eventName(id, store.PlanSent, 1)},
		{at + "/record", formTo(Record, at+"/record", record), at + "#record", versionName(id, 2, recordIs)},
		{"", s.photoTo(at+"/photos", 1), at + "#photos", photoName(id, 1)},
		{"", formTo(HandIn, at, url.Values{"do": {store.RecordSent}}), at, eventName(id, store.RecordSent, 2)},
	}
	for _, step := range steps {
		if step.kind == Photo && s.Photo == nil {
			continue
		}
		if step.reads != "" {
			if _, err := s.get(ctx, Page, step.reads); err != nil {
				return err
			}
		}
		step.request.leadsTo = step.leadsTo
		if _, err := s.send(ctx, step.request, step.name); err != nil {
			return err
		}
		if _, err := s.get(ctx, Page, step.leadsTo); err != nil { // as a browser does
			return err
		}
	}
	return nil
}

// testedPlan is a plan as tested: quarts above 6 000 ft take 60 minutes (USDA Complete
// Guide to Home Canning, 2015, Guide 3, p. 3-8), so the altitude may be any above that.
func (s *Student) testedPlan() (form url.Values, name string) {
	form, _ = s.aPlan()
	altitude, minutes := strconv.FormatUint(6001+s.book.next()%2000, 10), "60"
	form.Set("altitude", altitude+" ft")
	form.Set("time", minutes+" min")
	return form, planName(altitude, minutes)
}

// jars is how many are in a load of quarts.
const jars = 7

// record is the record of a load that was cooked yesterday, with lids of a lot that no
// other record has.
func (s *Student) record() (form url.Values, name string) {
	const clock = "2006-01-02T15:04"
	lot, boil := fmt.Sprintf("lot %d", s.book.next()), time.Now().UTC().Add(-24*time.Hour)
	form = url.Values{
		"zone": {"UTC"}, "start": {boil.Format(clock)}, "finished": {boil.Add(time.Hour).Format(clock)},
		"count": {strconv.Itoa(jars)}, "lot": {lot}, "checked": {"14 h"},
	}
	for jar := range jars {
		for key, word := range map[string]string{"sealed": "true", "liquid": "none", "separated": "false", "looks": "clear", "placed": "shelf"} {
			form.Set(fmt.Sprintf("%s-%d", key, jar+1), word)
		}
	}
	return form, recordName(lot)
}

// photoTo sends the student's photo of a jar.
func (s *Student) photoTo(path string, jar int) request {
	var body bytes.Buffer
	parts := multipart.NewWriter(&body)
	// Writing to a buffer does not fail.
	_ = parts.WriteField("jar", strconv.Itoa(jar))
	file, _ := parts.CreateFormFile("photo", "jar.jpg")
	_, _ = file.Write(s.Photo)
	_ = parts.Close()
	return request{kind: Photo, method: http.MethodPost, path: path, contentType: parts.FormDataContentType(), body: body.Bytes()}
}

// DrawPhoto draws a picture as a telephone might have taken it, and gives it as JPEG:
// shades that run into each other, and the noise of a small lens. Its sides are in px.
func DrawPhoto(width, height int) ([]byte, error) {
	const noise = 6 // of 255
	draw := rand.New(rand.NewPCG(uint64(width), uint64(height)))
	picture := image.NewRGBA(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			across, down := float64(x)/float64(width), float64(y)/float64(height)
			shade := func(of float64) uint8 {
				return uint8(math.Round(noise + (255-2*noise)*of + noise*(2*draw.Float64()-1)))
			}
			picture.SetRGBA(x, y, color.RGBA{R: shade(across), G: shade((1 + math.Sin(40*across*down)) / 2), B: shade(down), A: 255})
		}
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, picture, &jpeg.Options{Quality: 85}); err != nil {
		return nil, fmt.Errorf("draw a photo: %w", err)
	}
	return out.Bytes(), nil
}
