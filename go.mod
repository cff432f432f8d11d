module bandwright

go 1.26

require (
	github.com/alecthomas/kong v1.17.0
	github.com/goccy/go-yaml v1.19.2
	github.com/mjibson/go-dsp v0.0.0-20180508042940-11479a337f12
	github.com/santhosh-tekuri/jsonschema/v6 v6.0.3
	gonum.org/v1/gonum v0.17.0
)

require golang.org/x/text v0.23.0 // indirect
