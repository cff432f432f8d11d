package main

import (
	"bytes"
	"encoding"
	"encoding/json"
	flags "flag"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"bandwright/compiler/promise"
	"bandwright/compiler/result"
)

var update = flags.Bool("update", false, "write the schemas of what the program writes")

// shapes are the files that have a JSON Schema in specs/schema beside the spec
// itself, by the Go type that they are written from.
var shapes = []struct {
	file, title, about string
	of                 reflect.Type
}{
	{"result", "NAME.json of Bandwright", "Everything that a compilation made, for machines. Fields are added, never renamed.", reflect.TypeFor[result.Result]()},
	{"accepted", "NAME.accepted.json of Bandwright", "What a team agreed to ship: `bandwright check --against DIR --accept` writes it.", reflect.TypeFor[result.Accepted]()},
	{"check", "What `bandwright check --format json` prints", "What became of each spec, in the order of the command line.", reflect.TypeFor[report]()},
}

// documented are the folders whose comments describe the fields.
var documented = []string{".", "../../compiler/result", "../../compiler/compare"}

// orNull are the fields that are null where nothing is to be said: a nil map or
// slice, which the type does not tell.
var orNull = map[string]bool{
	"Section.When": true, "Stage.Applies": true, "Change.Setting": true,
}

// schemaOf writes the schema of a type: fields that the type has not are
// refused, and those that it always writes are required.
func schemaOf(t *testing.T, title, about string, of reflect.Type) []byte {
	s := shaper{comments: comments(t), defs: map[string]any{}}
	root := s.of(of)
	out, err := json.MarshalIndent(struct {
		Schema      string         `json:"$schema"`
		Title       string         `json:"title"`
		Description string         `json:"description"`
		Ref         any            `json:"$ref"`
		Defs        map[string]any `json:"$defs"`
	}{"https://json-schema.org/draft/2020-12/schema", title, about, root["$ref"], s.defs}, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	return append(bytes.ReplaceAll(bytes.ReplaceAll(bytes.ReplaceAll(out, []byte(`\u003c`), []byte("<")), []byte(`\u003e`), []byte(">")), []byte(`\u0026`), []byte("&")), '\n')
}

type object = map[string]any

// shaper collects the definitions that a schema refers to.
type shaper struct {
	comments map[string]string // "Type" and "Type.Field" → comment
	defs     map[string]any
}

var (
	writesJSON = reflect.TypeFor[json.Marshaler]()
	writesText = reflect.TypeFor[encoding.TextMarshaler]()
)

// of is the schema of a type.
func (s *shaper) of(t reflect.Type) object {
	switch {
	case t == reflect.TypeFor[result.Promises]():
		return s.define(t, s.promises)
	case t.Implements(writesJSON):
		panic("a type that writes its own JSON needs a schema here: " + t.String())
	case t.Implements(writesText):
		return object{"type": "string"}
	}
	switch t.Kind() {
	case reflect.Bool:
		return object{"type": "boolean"}
	case reflect.Int:
		return object{"type": "integer"}
	case reflect.Float64:
		return object{"type": "number"}
	case reflect.String:
		return object{"type": "string"}
	case reflect.Array:
		return object{"type": "array", "items": s.of(t.Elem()), "minItems": t.Len(), "maxItems": t.Len()}
	case reflect.Slice:
		return object{"type": "array", "items": s.of(t.Elem())}
	case reflect.Map:
		return object{"type": "object", "additionalProperties": s.of(t.Elem())}
	case reflect.Pointer:
		return null(s.of(t.Elem()))
	case reflect.Struct:
		return s.define(t, func() object { return s.fields(t) })
	}
	panic("no schema for " + t.String())
}

// null is a schema or null.
func null(of object) object {
	if name, ok := of["type"].(string); ok {
		of["type"] = []string{name, "null"}
		return of
	}
	return object{"anyOf": []object{of, {"type": "null"}}}
}

// define is a reference to a type's schema.
func (s *shaper) define(t reflect.Type, build func() object) object {
	if s.defs[t.Name()] == nil {
		s.defs[t.Name()] = object{} // a type that holds itself
		def := build()
		if text := s.comments[t.Name()]; text != "" {
			def["description"] = text
		}
		s.defs[t.Name()] = def
	}
	return object{"$ref": "#/$defs/" + t.Name()}
}

// fields is the schema of a struct.
func (s *shaper) fields(t reflect.Type) object {
	properties, required := object{}, []string{}
	for i := range t.NumField() {
		f := t.Field(i)
		name, options, tagged := strings.Cut(f.Tag.Get("json"), ",")
		if !f.IsExported() || name == "-" {
			continue
		}
		if name == "" {
			panic("a field without a name in JSON: " + t.Name() + "." + f.Name)
		}
		of := s.of(f.Type)
		optional := tagged && strings.HasPrefix(options, "omit")
		switch {
		case optional && f.Type.Kind() == reflect.Pointer:
			of = s.of(f.Type.Elem())
		case orNull[t.Name()+"."+f.Name]:
			of = null(of)
		}
		if !optional {
			required = append(required, name)
		}
		if text := s.comments[t.Name()+"."+f.Name]; text != "" {
			of["description"] = text
		}
		properties[name] = of
	}
	return object{"type": "object", "properties": properties, "required": required, "additionalProperties": false}
}

// promises is the schema of the limits in force: the band and a field for each
// promise of the table that a spec can set.
func (s *shaper) promises() object {
	properties := object{
		"band_hz":    object{"type": "array", "items": object{"type": "number"}, "minItems": 2, "maxItems": 2, "description": "promise.band"},
		"down_to_db": object{"type": "number", "description": "promise.down-to"},
	}
	required := []string{"band_hz", "down_to_db"}
	for _, r := range promise.All {
		if !r.InSpec() {
			continue
		}
		of := object{"type": "number", "description": r.Doc}
		if r.Null {
			of = null(of)
			required = append(required, r.Field())
		}
		properties[r.Field()] = of
	}
	return object{"type": "object", "properties": properties, "required": required, "additionalProperties": false}
}

// comments are those of the types and their fields, on one line each.
func comments(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, folder := range documented {
		paths, err := filepath.Glob(folder + "/*.go")
		if err != nil || len(paths) == 0 {
			t.Fatal(folder, err)
		}
		for _, path := range paths {
			f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ParseComments)
			if err != nil {
				t.Fatal(err)
			}
			for _, d := range f.Decls {
				g, ok := d.(*ast.GenDecl)
				if !ok {
					continue
				}
				for _, spec := range g.Specs {
					if x, ok := spec.(*ast.TypeSpec); ok {
						describe(out, x, g.Doc)
					}
				}
			}
		}
	}
	return out
}

// describe notes the comments of a type.
func describe(out map[string]string, x *ast.TypeSpec, doc *ast.CommentGroup) {
	line := func(groups ...*ast.CommentGroup) string {
		var all []string
		for _, g := range groups {
			all = append(all, strings.Fields(g.Text())...)
		}
		return strings.Join(all, " ")
	}
	out[x.Name.Name] = line(doc)
	body, ok := x.Type.(*ast.StructType)
	if !ok {
		return
	}
	for _, f := range body.Fields.List {
		for _, n := range f.Names {
			out[x.Name.Name+"."+n.Name] = line(f.Doc, f.Comment)
		}
	}
}

// The schemas in the tree are those of the types of today.
func TestSchemasAreCurrent(t *testing.T) {
	for _, x := range shapes {
		path := "../../specs/schema/" + x.file + ".schema.json"
		made := schemaOf(t, x.title, x.about, x.of)
		if *update {
			put(t, path, string(made))
			continue
		}
		stored, err := os.ReadFile(path)
		if err != nil {
			t.Error(err)
		} else if !bytes.Equal(stored, made) {
			t.Errorf("%s is out of date: `make golden` writes it", path)
		}
	}
}

// judge is a schema of the tree as an independent implementation reads it.
func judge(t *testing.T, file string) func(what string, data []byte) error {
	t.Helper()
	text, err := os.ReadFile("../../specs/schema/" + file + ".schema.json")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	closed(t, file, doc)
	c := jsonschema.NewCompiler()
	if err := c.AddResource(file, doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile(file)
	if err != nil {
		t.Fatal(err)
	}
	return func(what string, data []byte) error {
		t.Helper()
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
		if err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		return schema.Validate(doc)
	}
}

// closed demands that every object with fields refuses others.
func closed(t *testing.T, where string, doc any) {
	t.Helper()
	switch x := doc.(type) {
	case object:
		if other, said := x["additionalProperties"]; x["properties"] != nil && (!said || other != false) {
			t.Errorf("%s takes fields that it does not describe", where)
		}
		for key, v := range x {
			closed(t, where+"/"+key, v)
		}
	case []any:
		for _, v := range x {
			closed(t, where, v)
		}
	}
}

// What the program writes for every shipped spec is as the schemas say, and a
// field that they do not describe is refused.
func TestOutputsAreAsTheSchemasSay(t *testing.T) {
	specs, err := filepath.Glob("../../specs/*.yaml")
	if err != nil || len(specs) == 0 {
		t.Fatal("no specs", err)
	}
	dir := place(t)
	for i := range specs {
		if specs[i], err = filepath.Abs(specs[i]); err != nil {
			t.Fatal(err)
		}
	}
	known := func(file, what string, data []byte) {
		t.Helper()
		valid := judge(t, file)
		if err := valid(what, data); err != nil {
			t.Errorf("%s: %v", what, err)
		}
		if err := valid(what, bytes.Replace(data, []byte("{"), []byte(`{"unheard_of": 1,`), 1)); err == nil {
			t.Errorf("%s: a field that is not described passes", what)
		}
	}
	r := bandwright(t, dir, append([]string{"check", "--against", "accepted", "--accept", "--format", "json"}, specs...)...)
	expect(t, "accept", r, exitKept)
	known("check", "check --accept", []byte(r.out))
	for name, text := range tree(t, dir) {
		if strings.HasSuffix(name, acceptedEnding) {
			known("accepted", name, []byte(text))
		}
	}
	for _, path := range specs {
		name := strings.TrimSuffix(filepath.Base(path), extension)
		data, err := os.ReadFile("../../golden/" + name + "/" + name + ".json")
		if err != nil {
			t.Fatal(err)
		}
		known("result", name+".json", data)
	}
}

// The same of what check prints of specs that moved, broke a promise, were never
// accepted or are none, and of built files that differ.
func TestReportsAreAsTheSchemaSays(t *testing.T) {
	dir, spec := acceptedWren(t)
	put(t, filepath.Join(dir, "finch.yaml"), small("finch", tight, "float32"))
	put(t, filepath.Join(dir, "bad.yaml"), "bandwright: 1\n")
	put(t, filepath.Join(dir, "wren.yaml"), strings.NewReplacer("at: 200 Hz", "at: 230 Hz", "magnitude: "+loose, "magnitude: "+tight).Replace(spec))
	expect(t, "compile", bandwright(t, dir, "compile", "wren.yaml", "-o", "out"), exitBroken)
	put(t, filepath.Join(dir, "out/report.txt"), "other")
	valid := judge(t, "check")
	for _, args := range [][]string{
		{"check", "wren.yaml", "finch.yaml", "bad.yaml", "missing.yaml", "--against", "accepted"},
		{"check", "wren.yaml", "--against", "accepted", "--accept"},
		{"check", "wren.yaml", "--built", "out"},
		{"diff", "finch.yaml", "wren.yaml"},
	} {
		r := bandwright(t, dir, append(args, "--format", "json")...)
		if err := valid(strings.Join(args, " "), []byte(r.out)); err != nil {
			t.Errorf("%q: %v\n%s", args, err, r.out)
		}
	}
}
