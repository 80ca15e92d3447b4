package ogc

import (
	"maps"
	"strings"

	"reseal/inventory/table"
)

// openAPI is the definition of the service in OpenAPI 3.0.
func (s *Service) openAPI(base, about string) map[string]any {
	paths := map[string]any{
		"/":            operation("The landing page", nil, "object"),
		"/conformance": operation("The conformance classes", nil, "object"),
		"/collections": operation("The collections", nil, "object"),
	}
	for i := range s.Collections {
		c := &s.Collections[i]
		at := "/collections/" + c.ID
		paths[at] = operation("About "+c.Title, nil, "object")
		paths[at+"/items"] = operation(c.Title, itemParameters(c), featureCollection(c))
		paths[at+"/items/{featureId}"] = operation("One of "+c.Title, []any{map[string]any{
			"name": "featureId", "in": "path", "required": true, "schema": map[string]any{"type": "integer"},
		}}, feature(c))
	}
	schemas := map[string]any{"exception": map[string]any{
		"type": "object", "required": []string{"code"},
		"properties": map[string]any{"code": map[string]any{"type": "string"}, "description": map[string]any{"type": "string"}},
	}}
	components := map[string]any{"schemas": schemas}
	for kind, named := range s.Beside.Components {
		if kind == "schemas" {
			maps.Copy(schemas, named)
			continue
		}
		components[kind] = named
	}
	root := strings.TrimSuffix(base, s.Path)
	for path, item := range s.Beside.Paths {
		item := maps.Clone(item)
		item["servers"] = []any{map[string]any{"url": root}}
		paths[path] = item
	}
	return map[string]any{
		"openapi":    "3.0.3",
		"info":       map[string]any{"title": s.Title, "description": about, "version": "1.0.0"},
		"servers":    []any{map[string]any{"url": base}},
		"paths":      paths,
		"components": components,
	}
}

// Definition is the part of an OpenAPI 3.0 document that is not of features: its
// paths are from the server's root.
type Definition struct {
	Paths      map[string]map[string]any `json:"paths"`
	Components map[string]map[string]any `json:"components"`
}

// operation is a GET whose answer has a schema, or the name of a type.
func operation(summary string, parameters []any, schema any) map[string]any {
	media := typeJSON
	if name, plain := schema.(string); plain {
		schema = map[string]any{"type": name}
	} else {
		media = typeGeoJSON
	}
	wrong := func(what string) any {
		return map[string]any{"description": what, "content": map[string]any{typeJSON: map[string]any{"schema": map[string]any{"$ref": "#/components/schemas/exception"}}}}
	}
	get := map[string]any{
		"summary": summary,
		"responses": map[string]any{
			"200": map[string]any{"description": summary, "content": map[string]any{media: map[string]any{"schema": schema}}},
			"400": wrong("A parameter that is not known, or cannot be"),
			"404": wrong("There is no such thing"),
			"500": wrong("Something went wrong here"),
		},
	}
	if parameters != nil {
		get["parameters"] = parameters
	}
	return map[string]any{"get": get}
}

// itemParameters are limit, offset, bbox, datetime (7.15.2 to 7.15.4) and the
// columns (7.15.5).
func itemParameters(c *Collection) []any {
	param := func(name, about string, schema map[string]any) map[string]any {
		return map[string]any{"name": name, "in": "query", "required": false, "description": about, "style": "form", "explode": false, "schema": schema}
	}
	out := []any{
		param("limit", "At most so many features", map[string]any{"type": "integer", "minimum": 1, "maximum": mostLimit, "default": usualLimit}),
		param("offset", "Leave out the first of them", map[string]any{"type": "integer", "minimum": 0, "default": 0}),
		param("bbox", "West, south, east, north in degrees of WGS 84", map[string]any{
			"oneOf": []any{map[string]any{"minItems": 4, "maxItems": 4}, map[string]any{"minItems": 6, "maxItems": 6}},
			"type":  "array", "items": map[string]any{"type": "number"},
		}),
		param("bbox-crs", "The reference system of bbox", map[string]any{"type": "string", "format": "uri", "enum": []string{crs84}, "default": crs84}),
		param("datetime", "A day or a date-time, or an interval of two of them with a slash between; .. is open", map[string]any{"type": "string"}),
	}
	for _, column := range c.Columns {
		out = append(out, param(column.Name, "Features with this value", schemaOf(column.Kind)))
	}
	return out
}

func schemaOf(k table.Kind) map[string]any {
	switch k {
	case table.Int:
		return map[string]any{"type": "integer"}
	case table.Bool:
		return map[string]any{"type": "boolean"}
	case table.Date:
		return map[string]any{"type": "string", "format": "date"}
	case table.Text:
		return map[string]any{"type": "string"}
	}
	return map[string]any{"type": "number"}
}

// feature is the schema of a collection's features.
func feature(c *Collection) map[string]any {
	properties := map[string]any{}
	for _, column := range c.Columns {
		schema := schemaOf(column.Kind)
		schema["nullable"] = true
		properties[column.Name] = schema
	}
	return map[string]any{
		"type": "object", "required": []string{"type", "geometry", "properties"},
		"properties": map[string]any{
			"type":       map[string]any{"type": "string", "enum": []string{"Feature"}},
			"id":         map[string]any{"type": "integer"},
			"geometry":   map[string]any{"type": "object", "nullable": true},
			"properties": map[string]any{"type": "object", "properties": properties},
		},
	}
}

func featureCollection(c *Collection) map[string]any {
	return map[string]any{
		"type": "object", "required": []string{"type", "features"},
		"properties": map[string]any{
			"type":           map[string]any{"type": "string", "enum": []string{"FeatureCollection"}},
			"features":       map[string]any{"type": "array", "items": feature(c)},
			"links":          map[string]any{"type": "array", "items": map[string]any{"type": "object"}},
			"timeStamp":      map[string]any{"type": "string", "format": "date-time"},
			"numberMatched":  map[string]any{"type": "integer", "minimum": 0},
			"numberReturned": map[string]any{"type": "integer", "minimum": 0},
		},
	}
}
