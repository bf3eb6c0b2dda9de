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
	"rollingboil/server/load"
	"rollingboil/server/store"
)

// ownServer is a whole server on a port and a database of its own, with a class in it.
type ownServer struct {
	base   string
	class  load.Class
	store  *store.Store
	web    *http.Server
	folder string
}

func startOwn(ctx context.Context, course *server.Course) (*ownServer, error) {
	folder, err := os.MkdirTemp("", "classload-")
	if err != nil {
		return nil, err
	}
	s := &ownServer{folder: folder}
	if err := s.start(ctx, course); err != nil {
		return nil, errors.Join(err, os.RemoveAll(folder))
	}
	return s, nil
}

func (s *ownServer) start(ctx context.Context, course *server.Course) error {
	var err error
	if s.store, err = store.Open(ctx, filepath.Join(s.folder, "class.db")); err != nil {
		return err
	}
	if s.class, err = load.MakeClass(ctx, s.store, time.Now()); err != nil {
		return errors.Join(err, s.store.Close())
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
	s.web = site.Web()
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
