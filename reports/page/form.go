package page

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"sync"
)

//go:embed style.css
var styleSheet string

// form is the template of one kind of page.
type form struct {
	name  string
	parse func() (*template.Template, error)
}

// newForm returns a form that is parsed once for the process, at its first use;
// filling it in is safe from any number of goroutines.
func newForm(name, text string) form {
	return form{name, sync.OnceValues(func() (*template.Template, error) {
		t, err := template.New(name).Parse(text)
		if err != nil {
			return nil, fmt.Errorf("page: parse the %s template: %w", name, err)
		}
		return t, nil
	})}
}

// fill writes a page.
func (f form) fill(view any) ([]byte, error) {
	t, err := f.parse()
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	if err := t.Execute(&out, view); err != nil {
		return nil, fmt.Errorf("page: write the %s page: %w", f.name, err)
	}
	return out.Bytes(), nil
}
