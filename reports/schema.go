package reports

import _ "embed"

// ResultsSchema is the JSON Schema (draft 2020-12) of results.json. It allows
// further fields: within a schema's name, fields are only ever added.
//
//go:embed results.schema.json
var ResultsSchema string
