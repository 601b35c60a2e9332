package reports

import (
	"bytes"
	"encoding/json"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"jigloupe/inspect"
	"jigloupe/inspect/study"
	"jigloupe/reports/history"
)

// answers are what commands print with --json and what repeat saves.
var answers = map[string]reflect.Type{
	"compare":       reflect.TypeFor[study.Comparison](),
	"base":          reflect.TypeFor[[]study.BaseStudy](),
	"process":       reflect.TypeFor[study.ProcessStudy](),
	"lots":          reflect.TypeFor[study.LotVerdict](),
	"repeat":        reflect.TypeFor[study.RepeatStudy](),
	"repeat_file":   reflect.TypeFor[inspect.Repeatability](),
	"history_list":  reflect.TypeFor[[]history.Batch](),
	"history_find":  reflect.TypeFor[[]history.Found](),
	"history_like":  reflect.TypeFor[[]study.Match](),
	"history_trend": reflect.TypeFor[[]history.Trend](),
}

// TestAnswersSchema keeps answers.schema.json, made from the types, up to date.
func TestAnswersSchema(t *testing.T) {
	defs := map[string]any{}
	for name, typ := range answers {
		defs[name] = describe(typ, defs)
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	err := enc.Encode(map[string]any{
		"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": "urn:jigloupe:answers:1", "title": "what jigloupe's commands print with --json",
		"description": "One definition per command; fields may be added. null is what was not measured or does not apply.",
		"$defs":       defs,
	})
	if err != nil {
		t.Fatal(err)
	}
	const path = "answers.schema.json"
	if *update {
		if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if kept, err := os.ReadFile(path); err != nil || !bytes.Equal(kept, b.Bytes()) {
		t.Errorf("%s is not what the types say: run with -update (%v)", path, err)
	}
}

// describe is the schema of a type as encoding/json writes it; structs go into defs.
func describe(t reflect.Type, defs map[string]any) map[string]any {
	switch {
	case t == reflect.TypeFor[time.Time]():
		return map[string]any{"type": "string", "format": "date-time"}
	case t.Kind() == reflect.Pointer:
		return map[string]any{"anyOf": []any{describe(t.Elem(), defs), map[string]any{"type": "null"}}}
	case t.Kind() == reflect.Slice || t.Kind() == reflect.Array:
		return map[string]any{"type": "array", "items": describe(t.Elem(), defs)}
	case t.Kind() == reflect.Map:
		return map[string]any{"type": "object", "additionalProperties": describe(t.Elem(), defs)}
	case t.Kind() == reflect.Struct:
		if defs[t.String()] == nil {
			properties, required := map[string]any{}, []string{}
			defs[t.String()] = map[string]any{"type": "object", "properties": properties}
			for _, f := range reflect.VisibleFields(t) {
				name, option, _ := strings.Cut(f.Tag.Get("json"), ",")
				if !f.IsExported() || f.Anonymous || name == "-" {
					continue
				}
				if name == "" {
					name = f.Name
				}
				properties[name] = describe(f.Type, defs)
				if option == "" {
					required = append(required, name)
				}
			}
			defs[t.String()].(map[string]any)["required"] = required
		}
		return map[string]any{"$ref": "#/$defs/" + t.String()}
	}
	kinds := map[reflect.Kind]string{reflect.String: "string", reflect.Bool: "boolean", reflect.Int: "integer", reflect.Int64: "integer", reflect.Float64: "number"}
	return map[string]any{"type": kinds[t.Kind()]}
}
