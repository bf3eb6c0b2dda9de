package server

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"rollingboil/assets"
)

// assetFiles holds the styles, scripts and pictures under addresses that change
// with their content, so that browsers may keep them for good.
type assetFiles struct {
	byName map[string]string // "style/main.css" -> "/assets/1f2e…/style/main.css"
	byURL  map[string][]byte // "1f2e…/style/main.css" -> content
}

func loadAssets() (*assetFiles, error) {
	a := &assetFiles{byName: map[string]string{}, byURL: map[string][]byte{}}
	for _, dir := range []string{"style", "script", "pictures"} {
		err := fs.WalkDir(assets.Files, dir, func(name string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			content, err := fs.ReadFile(assets.Files, name)
			if err != nil {
				return err
			}
			sum := sha256.Sum256(content)
			key := hex.EncodeToString(sum[:6]) + "/" + name
			a.byName[name], a.byURL[key] = "/assets/"+key, content
			return nil
		})
		if err != nil {
			return nil, fmt.Errorf("load %s: %w", dir, err)
		}
	}
	return a, nil
}

// url gives an asset's address; a template that names no asset does not render.
func (a *assetFiles) url(name string) (string, error) {
	if u, ok := a.byName[name]; ok {
		return u, nil
	}
	return "", fmt.Errorf("there is no asset %q", name)
}

func (s *Server) assetFile(c *gin.Context) error {
	key := strings.TrimPrefix(c.Param("file"), "/")
	content, ok := s.assets.byURL[key]
	if !ok {
		return errNoPage
	}
	c.Header("Cache-Control", "public, max-age=31536000, immutable")
	c.Header("Content-Type", mime.TypeByExtension(path.Ext(key)))
	http.ServeContent(c.Writer, c.Request, "", time.Time{}, bytes.NewReader(content))
	return nil
}

// offlineScript is the script that keeps opened pages. It must stand at the root, or it
// would be heard for the scripts' own folder only, and be asked for anew each time.
func (s *Server) offlineScript(c *gin.Context) error {
	script, err := fs.ReadFile(assets.Files, "script/offline.js")
	if err != nil {
		return err
	}
	c.Header("Cache-Control", "no-cache")
	c.Data(http.StatusOK, "text/javascript; charset=utf-8", script)
	return nil
}
