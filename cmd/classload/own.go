package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"time"

	"rollingboil/server"
	"rollingboil/server/store"
)

// ownServer is a whole server on a port and a database of its own.
type ownServer struct {
	base   string
	store  *store.Store
	web    *http.Server
	folder string
}

func startOwn(course *server.Course) (*ownServer, error) {
	folder, err := os.MkdirTemp("", "classload-")
	if err != nil {
		return nil, err
	}
	s := &ownServer{folder: folder}
	if err := s.start(course); err != nil {
		return nil, errors.Join(err, os.RemoveAll(folder))
	}
	return s, nil
}

func (s *ownServer) start(course *server.Course) error {
	var err error
	if s.store, err = store.Open(context.Background(), filepath.Join(s.folder, "class.db")); err != nil {
		return err
	}
	// Lines of the log are written, since they cost something, and thrown away.
	site, err := server.New(server.Config{Course: course, Store: s.store, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		return errors.Join(err, s.store.Close())
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return errors.Join(err, s.store.Close())
	}
	s.base = "http://" + listener.Addr().String()
	s.web = &http.Server{Handler: site.Handler(), ReadHeaderTimeout: 10 * time.Second}
	go s.web.Serve(listener) //nolint:errcheck // it ends when it is closed
	return nil
}

func (s *ownServer) stop() error {
	return errors.Join(s.web.Close(), s.store.Close(), os.RemoveAll(s.folder))
}

// onThisMachine gives the address of a server, which must be on this machine: a class
// that plays at its deadline is not let loose on others.
func onThisMachine(addr string) (base string, err error) {
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		return "", fmt.Errorf("--addr %s: %w; write it as 127.0.0.1:8080", addr, err)
	}
	if host == "localhost" {
		host = "127.0.0.1"
	}
	ip, err := netip.ParseAddr(host)
	if err != nil || !ip.IsLoopback() {
		return "", fmt.Errorf("--addr %s is not on this machine; only an address such as 127.0.0.1:8080 may be loaded", addr)
	}
	return "http://" + net.JoinHostPort(ip.String(), port), nil
}
