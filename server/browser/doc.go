// Package browser holds the tests that use the pages as a learner does: in a
// real browser, over real connections, with a real database. It has no code of
// its own.
//
// The tests need Chromium and axe-core, named by the environment variables
// ROLLINGBOIL_CHROMIUM and ROLLINGBOIL_AXE. The verify program finds or
// installs both and then runs the tests:
//
//	go run ./cmd/verify -only browser
//
// With both variables set they can be run by hand, and TestAxe then also writes
// a picture of every page if it is told where to:
//
//	go test ./server/browser -run TestAxe -screenshots pictures
package browser
