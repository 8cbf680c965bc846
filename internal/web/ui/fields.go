package ui

import (
	"cmp"
	"strconv"

	"github.com/a-h/templ"
)

// fieldAttributes are the attributes that an input, a select and a text area share.
func fieldAttributes(in Input) templ.OrderedAttributes {
	var a templ.OrderedAttributes
	set := func(key string, value any) { a = append(a, templ.KeyValue[string, any]{Key: key, Value: value}) }
	if d := describedBy(in.id(), in.Help, in.Error); in.Unit != "" {
		if d != "" {
			d += " "
		}
		set("aria-describedby", d+in.id()+"-unit")
	} else if d != "" {
		set("aria-describedby", d)
	}
	if in.Error != "" {
		set("aria-invalid", "true")
	}
	if mode := in.Kind.inputMode(); mode != "" {
		set("inputmode", mode)
	}
	if in.Kind != Select && in.Kind != File {
		set("autocomplete", cmp.Or(in.Autocomplete, "off"))
	}
	if in.MaxLength > 0 {
		set("maxlength", strconv.Itoa(in.MaxLength))
	}
	if in.Min != "" {
		set("min", in.Min)
	}
	if in.Max != "" {
		set("max", in.Max)
	}
	if in.Accept != "" {
		set("accept", in.Accept)
	}
	if in.Private || in.Kind == PIN || in.Kind == Password {
		set("data-private", true)
	}
	if in.ReadOnly {
		set("readonly", true)
	}
	if !in.Optional {
		set("required", true)
	}
	if in.Focus {
		set("autofocus", true)
	}
	return a
}

// padAttributes say which keyboard a pad's field asks for; a secret is never sent back to the page.
func padAttributes(p Pad) templ.OrderedAttributes {
	pair := func(key string, value any) templ.KeyValue[string, any] {
		return templ.KeyValue[string, any]{Key: key, Value: value}
	}
	switch {
	case p.Secret:
		return templ.OrderedAttributes{pair("type", "password"), pair("inputmode", "numeric"), pair("data-private", true)}
	case p.Reading: // LO and HI are letters
		return templ.OrderedAttributes{pair("type", "text"), pair("inputmode", "text"), pair("value", p.Value)}
	default:
		return templ.OrderedAttributes{pair("type", "text"), pair("inputmode", "decimal"), pair("value", p.Value)}
	}
}
