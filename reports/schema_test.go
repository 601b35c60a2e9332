package reports

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"jigloupe/inspect"
)

func compiled(t *testing.T, schema string) *jsonschema.Schema {
	t.Helper()
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	s, err := c.Compile(schema)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func validate(t *testing.T, r *inspect.Results) error {
	t.Helper()
	dir := t.TempDir()
	if err := WriteResults(dir, r); err != nil {
		t.Fatal(err)
	}
	file, err := os.Open(filepath.Join(dir, "results.json"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	doc, err := jsonschema.UnmarshalJSON(file)
	if err != nil {
		t.Fatal(err)
	}
	return compiled(t, "results.schema.json").Validate(doc)
}

func TestResultsKeepTheSchema(t *testing.T) {
	dir := t.TempDir()
	if err := validate(t, trial(t, dir)); err != nil {
		t.Errorf("the trial batch: %v", err)
	}
	// Nothing known but what has no null: all the rest must be allowed to be absent.
	bare := &inspect.Results{Schema: inspect.Schema, Pieces: []inspect.Piece{{Verdict: inspect.Retake, Eye: inspect.EyeUnseen, Photos: []inspect.Photo{{Eye: inspect.EyeUnseen}}}}}
	if err := validate(t, bare); err != nil {
		t.Errorf("a batch of which nothing is known: %v", err)
	}
	for name, spoil := range map[string]func(*inspect.Results){
		"a verdict of our own":   func(r *inspect.Results) { r.Pieces[0].Verdict = "maybe" },
		"another schema":         func(r *inspect.Results) { r.Schema = "jigloupe/results/2" },
		"a fault without a name": func(r *inspect.Results) { r.Pieces[2].Photos[0].ReliefFaults[0].Kind = "" },
		"a light without a name": func(r *inspect.Results) { r.Pieces[0].Travel.Light = "" },
		"too sure":               func(r *inspect.Results) { r.Pieces[1].Photos[0].BareSpots[0].Confidence = 93 },
		"negative doubt":         func(r *inspect.Results) { r.Pieces[1].Coverage.U = f(-1) },
	} {
		r := trial(t, dir)
		spoil(r)
		if validate(t, r) == nil {
			t.Errorf("%s passes the schema", name)
		}
	}
}

// TestSchemaFollowsTheTypes walks types and schema side by side: a field that
// is added to one must be added to the other.
func TestSchemaFollowsTheTypes(t *testing.T) {
	var root map[string]any
	text, err := os.ReadFile("results.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &root); err != nil {
		t.Fatal(err)
	}
	follow(t, root, root, reflect.TypeFor[inspect.Results](), "results")
}

func follow(t *testing.T, root, node map[string]any, typ reflect.Type, path string) {
	node, null := resolve(root, node)
	if pointer := typ.Kind() == reflect.Pointer; pointer {
		typ = typ.Elem()
		if !null {
			t.Errorf("%s: the schema does not allow null", path)
		}
	} else if null {
		t.Errorf("%s: the schema allows null, the type does not", path)
	}
	want := map[reflect.Kind]string{reflect.Struct: "object", reflect.Map: "object", reflect.Slice: "array", reflect.Array: "array",
		reflect.Float64: "number", reflect.Int: "integer", reflect.Bool: "boolean", reflect.String: "string"}[typ.Kind()]
	if _, named := node["enum"]; !named && node["const"] == nil && node["type"] != want {
		t.Errorf("%s: the schema says %v, the type %s", path, node["type"], want)
	}
	switch typ.Kind() {
	case reflect.Slice, reflect.Array:
		follow(t, root, node["items"].(map[string]any), typ.Elem(), path+"[]")
	case reflect.Struct:
		properties := node["properties"].(map[string]any)
		required, seen := fmt.Sprint(node["required"]), 0
		for i := range typ.NumField() {
			name, option, _ := strings.Cut(typ.Field(i).Tag.Get("json"), ",")
			child, ok := properties[name].(map[string]any)
			if !ok {
				t.Errorf("%s.%s is not in the schema", path, name)
				continue
			}
			seen++
			if always := option == ""; always != slices.Contains(strings.Fields(strings.Trim(required, "[]")), name) {
				t.Errorf("%s.%s: always written is %v, the schema's list of required fields says otherwise", path, name, always)
			}
			follow(t, root, child, typ.Field(i).Type, path+"."+name)
		}
		if seen != len(properties) {
			t.Errorf("%s: the schema has %d fields, the type %d of them", path, len(properties), seen)
		}
	}
}

// resolve follows $ref and takes "or null" off a schema.
func resolve(root, node map[string]any) (map[string]any, bool) {
	null := false
	if either, ok := node["anyOf"].([]any); ok {
		node, null = either[0].(map[string]any), true
	}
	if ref, ok := node["$ref"].(string); ok {
		node = root["$defs"].(map[string]any)[strings.TrimPrefix(ref, "#/$defs/")].(map[string]any)
	}
	if types, ok := node["type"].([]any); ok {
		single := map[string]any{}
		for k, v := range node {
			single[k] = v
		}
		single["type"] = types[0]
		return single, true
	}
	return node, null
}
