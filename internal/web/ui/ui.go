// Package ui holds the page as it is written: HTML, styles and TypeScript without third-party code. Package web bundles it
// when the server starts.
package ui

import "embed"

// Files are the sources: index.html is sent as it is, page/main.ts and app.css are where bundling begins.
//
//go:embed index.html *.css *.ts page viewer
var Files embed.FS
