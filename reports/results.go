// Package reports turns graded results into what people read, keep and send:
// results.json, annotated pictures, the page, the PDF, tables and colour data.
// It measures nothing and judges nothing.
package reports

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"

	"jigloupe/inspect"
)

// WriteResults writes results.json into dir. The file appears whole or not at
// all, so that whoever finds it may trust everything it names to be there:
// write it after the masks and pictures. Its bytes depend on r alone.
func WriteResults(dir string, r *inspect.Results) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(withoutNil(reflect.ValueOf(*r)).Interface()); err != nil {
		return fmt.Errorf("results of batch %q: %w", r.Batch.Name, err)
	}
	return writeWhole(filepath.Join(dir, "results.json"), b.Bytes())
}

// ReadResults reads a results file and refuses one of another schema, because
// its fields may have changed their meaning. Fields it does not know are
// skipped: within a schema, fields are only ever added.
func ReadResults(path string) (*inspect.Results, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var r inspect.Results
	if err := json.Unmarshal(b, &r); err != nil {
		var kind *json.UnmarshalTypeError
		if errors.As(err, &kind) {
			err = fmt.Errorf("%s can't be of type %s", cmp.Or(kind.Field, "it"), kind.Value)
		}
		return nil, fmt.Errorf("%s: not a results file: %w", path, err)
	}
	if r.Schema != inspect.Schema {
		return nil, fmt.Errorf("%s: schema is %q, this program reads %q", path, r.Schema, inspect.Schema)
	}
	return &r, nil
}

// writeWhole replaces the file at path by b in one step: a reader sees the old
// bytes or the new ones, also when the power fails half-way.
func writeWhole(path string, b []byte) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	defer func() {
		var at *os.PathError
		if errors.As(err, &at) {
			at.Path = path // nobody knows the other name
		}
		if err != nil && f != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err != nil {
		return err
	}
	if _, err = f.Write(b); err != nil {
		return err
	}
	if err = f.Chmod(0o644); err != nil {
		return err
	}
	if err = f.Sync(); err != nil {
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// withoutNil copies v with every nil slice and map made empty: in results.json
// an empty list is [], and null is kept for what was not measured.
func withoutNil(v reflect.Value) reflect.Value {
	out := reflect.New(v.Type()).Elem()
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			out.Field(i).Set(withoutNil(v.Field(i)))
		}
	case reflect.Pointer:
		if !v.IsNil() {
			out.Set(reflect.New(v.Type().Elem()))
			out.Elem().Set(withoutNil(v.Elem()))
		}
	case reflect.Slice:
		out.Set(reflect.MakeSlice(v.Type(), v.Len(), v.Len()))
		for i := range v.Len() {
			out.Index(i).Set(withoutNil(v.Index(i)))
		}
	case reflect.Map:
		if v.IsNil() {
			v = reflect.MakeMap(v.Type())
		}
		out.Set(v)
	default:
		out.Set(v)
	}
	return out
}
