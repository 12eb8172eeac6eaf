package web

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"sync"

	"github.com/evanw/esbuild/pkg/api"
)

// assets are the files of the page as sent.
type assets struct {
	src   fs.FS
	again bool // bundle for every request

	mu    sync.Mutex
	files map[string]asset
}

type asset struct {
	kind, tag string
	data      []byte
}

// newAssets bundles the sources.
func newAssets(src fs.FS, again bool) (*assets, error) {
	a := &assets{src: src, again: again}
	return a, a.make()
}

func (a *assets) make() error {
	js, css, err := bundle(a.src)
	if err != nil {
		return err
	}
	html, err := fs.ReadFile(a.src, "index.html")
	if err != nil {
		return err
	}
	files := map[string]asset{}
	for name, f := range map[string]asset{
		"index.html": {kind: "text/html; charset=utf-8", data: html},
		"app.js":     {kind: "text/javascript; charset=utf-8", data: js},
		"app.css":    {kind: "text/css; charset=utf-8", data: css},
	} {
		sum := sha256.Sum256(f.data)
		f.tag = `"` + hex.EncodeToString(sum[:12]) + `"`
		files[name] = f
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	a.files = files
	return nil
}

// file answers one file of the page.
func (a *assets) file(name string) http.Handler {
	return call(func(w http.ResponseWriter, r *http.Request) error {
		if a.again {
			if err := a.make(); err != nil {
				return err
			}
		}
		a.mu.Lock()
		f := a.files[name]
		a.mu.Unlock()
		w.Header().Set("Content-Type", f.kind)
		w.Header().Set("Cache-Control", "no-cache")
		w.Header().Set("ETag", f.tag)
		if r.Header.Get("If-None-Match") == f.tag {
			w.WriteHeader(http.StatusNotModified)
			return nil
		}
		_, _ = w.Write(f.data)
		return nil
	})
}

// bundle makes one script and one style sheet of the sources, of which page/main.ts and app.css are the beginnings.
func bundle(src fs.FS) (js, css []byte, err error) {
	const space = "ui"
	r := api.Build(api.BuildOptions{
		EntryPointsAdvanced: []api.EntryPoint{{InputPath: "./page/main.ts", OutputPath: "app"}, {InputPath: "./app.css", OutputPath: "app"}},
		Outdir:              "/", Bundle: true, Write: false, Format: api.FormatESModule, Target: api.ES2022, Charset: api.CharsetUTF8,
		MinifyWhitespace: true, MinifySyntax: true, LegalComments: api.LegalCommentsNone,
		TsconfigRaw: `{"compilerOptions":{"strict":true,"useDefineForClassFields":true}}`,
		Plugins: []api.Plugin{{Name: space, Setup: func(b api.PluginBuild) {
			b.OnResolve(api.OnResolveOptions{Filter: `.`}, func(a api.OnResolveArgs) (api.OnResolveResult, error) {
				p, err := resolve(src, path.Dir(a.Importer), a.Path)
				return api.OnResolveResult{Path: p, Namespace: space}, err
			})
			b.OnLoad(api.OnLoadOptions{Filter: `.`, Namespace: space}, func(a api.OnLoadArgs) (api.OnLoadResult, error) {
				data, err := fs.ReadFile(src, a.Path)
				text, loader := string(data), api.LoaderTS
				if path.Ext(a.Path) == ".css" {
					loader = api.LoaderCSS
				}
				return api.OnLoadResult{Contents: &text, Loader: loader}, err
			})
		}}},
	})
	if len(r.Errors)+len(r.Warnings) > 0 {
		lines := api.FormatMessages(append(r.Errors, r.Warnings...), api.FormatMessagesOptions{Kind: api.ErrorMessage})
		return nil, nil, errors.New("the page cannot be put together:\n" + strings.Join(lines, ""))
	}
	for _, f := range r.OutputFiles {
		switch path.Ext(f.Path) {
		case ".js":
			js = f.Contents
		case ".css":
			css = f.Contents
		}
	}
	return js, css, nil
}

// resolve finds the source that an import means. Only sources of the page can be imported.
func resolve(src fs.FS, dir, name string) (string, error) {
	if !strings.HasPrefix(name, ".") {
		return "", fmt.Errorf("%s is not a source of the page", name)
	}
	p := path.Join(dir, name)
	for _, try := range []string{p, p + ".ts"} {
		if st, err := fs.Stat(src, try); err == nil && !st.IsDir() {
			return try, nil
		}
	}
	return "", fmt.Errorf("there is no source %s", p)
}
