package server

import (
	_ "embed" // for the description of the API
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
)

// openAPI describes the API in the OpenAPI 3.1 form. The tests hold it to what
// the handlers answer.
//
//go:embed openapi.json
var openAPI []byte

const schemaType = "application/schema+json"

// apiDocument answers with a document that is the same for everybody.
func (s *Server) apiDocument(contentType string, document []byte) handler {
	return func(c *gin.Context) error {
		c.Data(http.StatusOK, contentType, document)
		return nil
	}
}

// apiProblem is one thing in a plan that could not be read.
type apiProblem struct {
	Line    int    `json:"line,omitempty"`
	Column  int    `json:"column,omitempty"`
	Key     string `json:"key,omitempty"`
	Value   string `json:"value,omitempty"`
	Message string `json:"message"`
}

type apiError struct {
	Error    string       `json:"error"`
	Problems []apiProblem `json:"problems,omitempty"`
	Request  string       `json:"request"`
}

// apiGrade grades the plan or batch in the body, JSON or YAML, and answers with
// the report. A body that cannot be read is answered with 400 and what is wrong
// with it; one over a megabyte with 413; a kind of body that is neither with
// 415.
func (s *Server) apiGrade(c *gin.Context) error {
	if !readableType(c.ContentType()) {
		return s.apiFail(c, http.StatusUnsupportedMediaType, "send the plan as application/json or application/yaml", nil)
	}
	body, err := io.ReadAll(c.Request.Body)
	if err != nil {
		var tooLarge *http.MaxBytesError
		if errors.As(err, &tooLarge) {
			return s.apiFail(c, http.StatusRequestEntityTooLarge, "a plan is at most one mebibyte", nil)
		}
		return s.apiFail(c, http.StatusBadRequest, "the body could not be read to its end", nil)
	}
	if len(strings.TrimSpace(string(body))) == 0 {
		return s.apiFail(c, http.StatusBadRequest, "the body is empty; send a plan", nil)
	}
	if c.ContentType() == "application/json" && !json.Valid(body) {
		return s.apiFail(c, http.StatusBadRequest, "the body is not JSON", nil)
	}
	b, batch, err := s.course.Grader.ParseFile("", body)
	if err != nil {
		var list []apiProblem
		for _, p := range scenarios.Problems(err) {
			list = append(list, apiProblem{Line: p.Line, Column: p.Col, Key: p.Key, Value: p.Value, Message: p.Message})
		}
		return s.apiFail(c, http.StatusBadRequest, "the plan or batch could not be read; nothing was guessed", list)
	}
	if batch {
		return writeJSON(c, http.StatusOK, s.course.Grader.GradeBatch(b))
	}
	return writeJSON(c, http.StatusOK, s.course.Grader.Advise(b.Plan))
}

func readableType(contentType string) bool {
	switch contentType {
	case "", "application/json", "application/yaml", "application/x-yaml", "text/yaml", "text/x-yaml", "text/plain", "application/octet-stream", "application/x-www-form-urlencoded":
		// The last is what command-line clients send when nothing is said.
		return true
	}
	return false
}

func (s *Server) apiFail(c *gin.Context, status int, message string, problems []apiProblem) error {
	return writeJSON(c, status, apiError{Error: message, Problems: problems, Request: requestID(c.Request.Context())})
}

func writeJSON(c *gin.Context, status int, v any) error {
	raw, err := json.Marshal(v)
	if err != nil {
		return err
	}
	c.Data(status, "application/json; charset=utf-8", append(raw, '\n'))
	return nil
}

// failJSON is the error page for programs.
func (s *Server) failJSON(w http.ResponseWriter, status int, says, request string) {
	raw, err := json.Marshal(apiError{Error: says, Request: request})
	if err == nil {
		w.Header().Set("Content-Type", "application/json; charset=utf-8")
		w.WriteHeader(status)
		_, err = w.Write(append(raw, '\n'))
	}
	if err != nil {
		s.log.Error("write an error", "request", request, "error", err)
	}
}

// healthz says whether the server can read its database.
func (s *Server) healthz(c *gin.Context) error {
	if err := s.store.Ping(c.Request.Context()); err != nil {
		s.log.Error("health", "request", requestID(c.Request.Context()), "error", err)
		return writeJSON(c, http.StatusServiceUnavailable, map[string]string{"status": "database cannot be read"})
	}
	return writeJSON(c, http.StatusOK, map[string]string{"status": "ok"})
}
