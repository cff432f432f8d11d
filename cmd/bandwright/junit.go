package main

import (
	"encoding/xml"
	"fmt"
	"strings"
	"time"

	"bandwright/compiler/words"
)

// The elements and attributes are those that the two schemas in common use
// allow both, in the order that the stricter one wants: testdata/junit.xsd.

type junitSuite struct {
	XMLName   xml.Name    `xml:"testsuite"`
	Name      string      `xml:"name,attr"`
	Package   string      `xml:"package,attr"`
	ID        int         `xml:"id,attr"`
	Timestamp string      `xml:"timestamp,attr"`
	Host      string      `xml:"hostname,attr"`
	Tests     int         `xml:"tests,attr"`
	Failures  int         `xml:"failures,attr"`
	Errors    int         `xml:"errors,attr"`
	Skipped   int         `xml:"skipped,attr"`
	Time      string      `xml:"time,attr"`
	Settings  struct{}    `xml:"properties"`
	Cases     []junitCase `xml:"testcase"`
	Out       string      `xml:"system-out"`
	Err       string      `xml:"system-err"`
}

type junitCase struct {
	Class   string      `xml:"classname,attr"`
	Name    string      `xml:"name,attr"`
	Time    string      `xml:"time,attr"`
	Failure *junitFault `xml:"failure"`
	Error   *junitFault `xml:"error"`
}

type junitFault struct {
	Message string `xml:"message,attr"`
	Type    string `xml:"type,attr"`
	Text    string `xml:",chardata"`
}

// add counts a case that took some time.
func (s *junitSuite) add(took time.Duration, c junitCase) {
	c.Class, c.Time = s.Name, seconds(took)
	s.Tests++
	if c.Failure != nil {
		s.Failures++
	}
	if c.Error != nil {
		s.Errors++
	}
	s.Cases = append(s.Cases, c)
}

// seconds is a time as both schemas read it: no exponent, at most three decimals.
func seconds(d time.Duration) string { return fmt.Sprintf("%.3f", d.Seconds()) }

// asJUnit is a suite a spec: a case for its compilation, one for every check of
// a promise and one for what was accepted. A promise takes no time of its own:
// all are judged while the spec is compiled.
func asJUnit(all []judged, accepting bool) ([]byte, error) {
	var suites struct {
		XMLName xml.Name `xml:"testsuites"`
		Suites  []junitSuite
	}
	for i, j := range all {
		suites.Suites = append(suites.Suites, j.suite(i, accepting))
	}
	text, err := xml.MarshalIndent(suites, "", " ")
	return append([]byte(xml.Header), append(text, '\n')...), err
}

func (j judged) suite(id int, accepting bool) junitSuite {
	s := junitSuite{Name: j.file, Package: "bandwright", ID: id, Host: "localhost",
		Timestamp: j.began.UTC().Format("2006-01-02T15:04:05"), Time: seconds(j.compiling + j.comparing)}
	compiled := junitCase{Name: "spec"}
	if j.compiled {
		s.add(j.compiling, compiled)
	} else if j.err != nil {
		compiled.Error = &junitFault{"cannot be checked", "spec", j.problem()}
		s.add(j.compiling, compiled)
	}
	for _, f := range j.findings {
		c := junitCase{Name: strings.TrimSuffix(f.Promise+", "+f.Realisation+", "+f.Way, ", ")}
		if !f.Kept {
			c.Failure = &junitFault{f.Promise + " is broken", "promise", breach(f)}
		}
		s.add(0, c)
	}
	if j.built != "" {
		c := junitCase{Name: "built files"}
		if len(j.wrong) > 0 {
			c.Failure = &junitFault{"the built files differ", "built", builtText(j.built, j.wrong)}
		}
		s.add(0, c)
	}
	accepted := junitCase{Name: "accepted result"}
	switch {
	case j.compiled && j.err != nil:
		accepted.Error = &junitFault{"cannot be compared", "accepted", j.problem()}
	case j.change == nil:
		return s
	case j.regressed(accepting):
		accepted.Failure = &junitFault{words.Count(len(j.change.Changes), "change", "changes"), "regression", j.change.Text(summaryWidth)}
	default:
		s.Out = j.change.Text(summaryWidth)
	}
	s.add(j.comparing, accepted)
	return s
}
