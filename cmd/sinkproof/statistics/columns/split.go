package columns

import (
	"bytes"
	"errors"
	"fmt"
	"io"
)

// split cuts a line into fields. Quoted fields follow RFC 4180: a field that
// begins with a quote ends at the next single one, may hold separators and line
// ends, and a quote inside is doubled.
func (r *Reader) split(line []byte) error {
	r.fields = r.fields[:0]
	if bytes.IndexByte(line, '"') >= 0 {
		return r.splitQuoted(line)
	}
	for {
		at := bytes.IndexByte(line, r.sep)
		if at < 0 {
			r.fields = append(r.fields, line)
			return nil
		}
		if err := r.add(line[:at]); err != nil {
			return err
		}
		line = line[at+1:]
	}
}

// add takes a field that is not the last one.
func (r *Reader) add(field []byte) error {
	r.fields = append(r.fields, field)
	if len(r.fields) >= mostColumns {
		return r.mistake("", fmt.Sprintf("more than %d columns", mostColumns), tooManyHint())
	}
	return nil
}

// splitQuoted cuts a line some of whose fields are quoted. Their text is
// gathered in r.unquoted, which grows: fields are cut out of it at the end.
func (r *Reader) splitQuoted(line []byte) error {
	// The line is only valid until the next one is read.
	line = append([]byte(nil), line...)
	r.unquoted = r.unquoted[:0]
	var ends []int
	for {
		more := false
		var err error
		if bytes.HasPrefix(line, []byte{'"'}) {
			line, more, err = r.quotedField(line[1:])
		} else {
			line, more = r.plainField(line)
		}
		if err != nil {
			return err
		}
		ends = append(ends, len(r.unquoted))
		if !more {
			break
		}
		if len(ends) >= mostColumns {
			return r.mistake("", fmt.Sprintf("more than %d columns", mostColumns), tooManyHint())
		}
	}
	from := 0
	for _, to := range ends {
		r.fields = append(r.fields, r.unquoted[from:to])
		from = to
	}
	return nil
}

// plainField takes a field up to the next separator.
func (r *Reader) plainField(line []byte) (rest []byte, more bool) {
	at := bytes.IndexByte(line, r.sep)
	if at < 0 {
		r.unquoted = append(r.unquoted, line...)
		return nil, false
	}
	r.unquoted = append(r.unquoted, line[:at]...)
	return line[at+1:], true
}

// quotedField takes a field up to its closing quote, over line ends.
func (r *Reader) quotedField(line []byte) (rest []byte, more bool, err error) {
	begun := len(r.unquoted)
	for {
		at := bytes.IndexByte(line, '"')
		switch {
		case at < 0:
			r.unquoted = append(append(r.unquoted, line...), '\n')
			if len(r.unquoted)-begun > longest {
				return nil, false, r.mistake("", "a quoted field does not end", "a quote at the beginning of a field needs one at its end")
			}
			next, err := r.lines.next()
			if errors.Is(err, io.EOF) {
				return nil, false, r.mistake("", "a quoted field does not end", "a quote at the beginning of a field needs one at its end")
			}
			if err != nil {
				return nil, false, err
			}
			line = append([]byte(nil), next...)
		case at+1 < len(line) && line[at+1] == '"':
			r.unquoted = append(r.unquoted, line[:at+1]...)
			line = line[at+2:]
		default:
			r.unquoted = append(r.unquoted, line[:at]...)
			return r.afterQuote(line[at+1:])
		}
	}
}

// afterQuote demands a separator or the end of the line.
func (r *Reader) afterQuote(line []byte) (rest []byte, more bool, err error) {
	switch {
	case len(line) == 0:
		return nil, false, nil
	case line[0] == r.sep:
		return line[1:], true, nil
	}
	return nil, false, r.mistake("", "text after the closing quote of a field", "a quote inside a quoted field is doubled")
}
