package server

import (
	"errors"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"rollingboil/server/photo"
	"rollingboil/server/store"
)

// mostPhotos is how many photos a batch may have.
const mostPhotos = 24

// maxPhotoBody is the most that a request with a photo may carry, in bytes: the photo
// and the form around it.
const maxPhotoBody = 12<<20 + 64<<10

// addPhoto keeps a photo of a jar: made small, turned upright, and with nothing left in
// it of where and with what it was taken.
func (s *Server) addPhoto(c *gin.Context) error {
	w, err := s.ownBatch(c)
	if err != nil {
		return err
	}
	if !w.cooks() {
		return s.showBatch(c, http.StatusUnprocessableEntity, w, "Photos belong to the record: send the plan in first.")
	}
	refuse := func(why string) error { return s.showBatch(c, http.StatusUnprocessableEntity, w, why) }
	file, _, err := c.Request.FormFile("photo")
	if errors.Is(err, http.ErrMissingFile) {
		return refuse("No photo was chosen. Choose one and send it again.")
	}
	if err != nil {
		return errors.Join(errBadForm, err)
	}
	defer file.Close()
	jar, err := strconv.Atoi(c.Request.PostFormValue("jar"))
	if err != nil || jar < 0 || jar > mostJarRows {
		return refuse("Say which jar it shows.")
	}
	picture, err := photo.Read(c.Request.Context(), file)
	if r, ok := errors.AsType[photo.Refusal](err); ok {
		return refuse(string(r))
	}
	if err != nil {
		return err
	}
	err = s.store.AddBatchPhoto(c.Request.Context(), store.BatchPhoto{
		ID: store.NewID(), Batch: w.ID, Jar: jar, Sum: picture.Sum, Width: picture.Width, Height: picture.Height, At: s.now(),
	}, picture.Small, picture.Full, mostPhotos)
	if errors.Is(err, store.ErrChanged) {
		return refuse("A batch has room for 24 photos. Delete one first.")
	}
	if err != nil {
		return err
	}
	return seeOther(c, "/batches/"+w.ID+"#photos")
}

// photosOf are the photos of a batch that the reader may see. They belong to the record,
// so the instructor sees those that were there when it was sent in last.
func (s *Server) photosOf(c *gin.Context, w *work) ([]store.BatchPhoto, error) {
	photos, err := s.store.BatchPhotos(c.Request.Context(), w.ID)
	if err != nil || w.Mine {
		return photos, err
	}
	sent := w.lastSent(store.RecordSent)
	return slices.DeleteFunc(photos, func(p store.BatchPhoto) bool { return sent == nil || p.At.After(sent.At) }), nil
}

// photoFile is a photo, for the student and the instructor of the class.
func (s *Server) photoFile(c *gin.Context) error {
	w, err := s.batchWork(c)
	if err != nil {
		return err
	}
	photos, err := s.photosOf(c, w)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(photos, func(p store.BatchPhoto) bool { return p.ID == c.Param("photo") }) {
		return errNoPage
	}
	picture, err := s.store.Photo(c.Request.Context(), w.ID, c.Param("photo"), c.Query("size") == "small")
	if err != nil {
		return err
	}
	c.Header("Cache-Control", "private, max-age=3600") // a photo never changes
	c.Data(http.StatusOK, "image/jpeg", picture)
	return nil
}

// deletePhoto takes a photo away, as long as the record is not sent in.
func (s *Server) deletePhoto(c *gin.Context) error {
	w, err := s.ownBatch(c)
	if err != nil {
		return err
	}
	if !w.cooks() {
		return s.showBatch(c, http.StatusUnprocessableEntity, w, "The record is sent in; its photos stay with it.")
	}
	if err := s.store.DeletePhoto(c.Request.Context(), w.ID, c.Param("photo")); err != nil {
		return err
	}
	return seeOther(c, "/batches/"+w.ID+"#photos")
}
