package number

// Reference is the format that every realisation exists in, asked for or not.
const Reference = "float64"

// Formats is every number format, in the order that documentation lists them.
// To add one: a row here, its description in a file of its own.
var Formats = []Format{
	float64Format,
	float32Format,
	q31Format,
	q23Format,
}
