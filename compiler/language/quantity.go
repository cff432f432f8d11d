package language

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// problem is a fault that has no place yet.
type problem struct{ message, right string }

// nbsp is the no-break space, which may stand between a number and its unit.
const nbsp = "\u00a0"

// quantity reads a number with a unit of one of the dimensions, or a plain
// number where there are none.
func quantity(text string, dims []Dim) (x float64, dim Dim, ok bool) {
	n := number(text)
	if n == 0 {
		return 0, "", false
	}
	rest := text[n:]
	if len(dims) == 0 {
		if rest != "" {
			return 0, "", false
		}
		x, ok = scaled(text, 0)
		return x, "", ok
	}
	if s, found := strings.CutPrefix(rest, " "); found {
		rest = s
	} else {
		rest = strings.TrimPrefix(rest, nbsp)
	}
	u, found := unitNamed(rest)
	if !found || !slices.Contains(dims, u.dim) {
		return 0, "", false
	}
	x, ok = scaled(text[:n], u.exp)
	return x, u.dim, ok
}

// explain says why text is not what the type wants, and what would be. subject
// is the sentence that says what is wanted: "`at` is a frequency".
func explain(text string, t *Type, subject, example string) problem {
	wanted := describe(t)
	if example != "" && number(example) > 0 {
		wanted += ", such as " + code(example)
	}
	wanted = "it takes " + wanted
	plain := strings.ReplaceAll(text, nbsp, " ")
	if w := Nearest(text, t.Words); w != "" && !strings.ContainsAny(text, "0123456789") {
		return problem{fmt.Sprintf("%s is not a value of %s", quoted(text), subject), "did you mean " + quoted(w) + "?"}
	}
	switch word, _, _ := strings.Cut(strings.TrimLeft(plain, "+-."), " "); strings.ToLower(word) {
	case "nan", "inf", "infinity", "∞":
		if slices.Contains(t.Words, "inf") && !strings.HasPrefix(plain, "-") {
			wanted = "write `inf`"
		}
		return problem{fmt.Sprintf("%s is not a valid number for %s", quoted(text), subject), wanted}
	}
	if strings.HasPrefix(strings.ToLower(strings.TrimLeft(plain, "+-")), "0x") {
		return problem{fmt.Sprintf("%s is hexadecimal", quoted(text)), wanted}
	}
	if i := strings.Index(plain, ": "); i > 0 {
		return problem{fmt.Sprintf("%s has a colon in it", quoted(text)), "put a comma before the next key, or begin a new line for it"}
	}

	// A number that is in order, with the wrong thing behind it.
	if n := number(plain); n > 0 {
		unit := strings.TrimPrefix(plain[n:], " ")
		u, known := unitNamed(unit)
		_, finite := scaled(plain[:n], u.exp)
		switch {
		case (known || unit == "") && !finite:
			return problem{fmt.Sprintf("%s is too large or too small", quoted(text)), wanted}
		case len(t.Dims) == 0 && unit == "%":
			return problem{fmt.Sprintf("%s has a percent sign, but %s is a plain number", quoted(text), subject), wanted}
		case len(t.Dims) == 0 && known:
			return problem{fmt.Sprintf("%s has a unit, but %s is a plain number", quoted(text), subject), "write " + code(plain[:n])}
		case known && slices.Contains(t.Dims, FullScale) && u.dim == Level, known && slices.Contains(t.Dims, Level) && u.dim == FullScale:
			return problem{fmt.Sprintf("%s is %s, but %s is %s", quoted(text), nouns[u.dim], subject, oneOf(t.Dims)),
				"write " + code(plain[:n]+" "+unitsOf(t.Dims...)[0])}
		case known && !slices.Contains(t.Dims, u.dim):
			return problem{fmt.Sprintf("%s is %s, but %s is %s", quoted(text), nouns[u.dim], subject, oneOf(t.Dims)), wanted}
		}
	}

	if fixed, why := repaired(plain, t.Dims); len(why) > 0 {
		p := problem{quoted(text) + " " + list(why, "and"), wanted}
		if len(why) == 1 && why[0] == noUnit {
			p.message += ": " + subject + " is " + oneOf(t.Dims)
		}
		if why[len(why)-1] != noUnit {
			if x, dim, ok := quantity(fixed, t.Dims); ok && t.bounds(x, dim) == "" {
				p.right = "write " + code(fixed)
			}
			return p
		}
		all := unitsOf(t.Dims...)
		for _, u := range all {
			if x, dim, ok := quantity(fixed+" "+u, t.Dims); ok && t.bounds(x, dim) == "" {
				p.right = "write " + code(fixed+" "+u)
				if rest := slices.DeleteFunc(all, func(o string) bool { return o == u }); len(rest) > 0 {
					p.right += " (or " + strings.Join(rest, ", ") + ")"
				}
				return p
			}
		}
		return p
	}
	n := number(plain)
	if unit := strings.TrimSpace(plain[n:]); n > 0 && len(t.Dims) > 0 && unit != "" && !unicode.IsDigit([]rune(unit)[0]) {
		return problem{fmt.Sprintf("%s is not a unit of %s", quoted(unit), subject), "units: " + strings.Join(unitsOf(t.Dims...), ", ")}
	}
	if _, known := unitNamed(strings.TrimSpace(plain)); known && len(t.Dims) > 0 {
		return problem{quoted(text) + " is a unit without a number", wanted}
	}
	return problem{fmt.Sprintf("%s is not a value of %s", quoted(text), subject), wanted}
}

// noUnit is the reason that gets the list of units beside it; always the last.
const noUnit = "has no unit"

// repair collects the slips that were undone in a text.
type repair struct{ why []string }

func (r *repair) because(reason string) { r.why = append(r.why, reason) }

// repaired undoes the slips that it recognises in a text that is not a quantity
// of the dimensions, or a plain number where there are none, and names them. A
// missing unit stays missing.
func repaired(text string, dims []Dim) (fixed string, why []string) {
	r := &repair{}
	s := strings.TrimSpace(text)
	if s != text {
		r.because("has an extra space")
	}
	sign, s := r.sign(s)
	end := 0 // of the digits and what stands between them
	for end < len(s) && (s[end] >= '0' && s[end] <= '9' || strings.IndexByte(".,_' ", s[end]) >= 0) {
		end++
	}
	digits := strings.TrimRight(s[:end], " ")
	if digits == "" {
		return text, nil
	}
	gap, rest := s[len(digits):end], s[end:]
	num := sign + r.digits(digits)
	if len(dims) == 0 {
		if rest != "" {
			return text, nil
		}
		return num, r.why
	}
	if n := number(num + rest); n > len(num) { // an exponent
		num, rest = num+rest[:n-len(num)], rest[n-len(num):]
		unit := strings.TrimLeft(rest, " ")
		gap, rest = rest[:len(rest)-len(unit)], unit
	}
	if len(gap) > 1 {
		r.because("has an extra space before its unit")
	}
	return r.unit(num, letters.Replace(rest), unitsOf(dims...)), r.why
}

// sign takes the sign off.
func (r *repair) sign(s string) (sign, rest string) {
	for _, dash := range []string{"\u2212", "\u2013", "\u2014"} {
		if rest, found := strings.CutPrefix(s, dash); found {
			r.because(fmt.Sprintf("begins with a dash (U+%04X) that is not the minus sign `-`", []rune(dash)[0]))
			return "-", strings.TrimPrefix(rest, " ")
		}
	}
	if !strings.HasPrefix(s, "-") && !strings.HasPrefix(s, "+") {
		return "", s
	}
	sign, rest = s[:1], s[1:]
	if t := strings.TrimLeft(rest, " "); t != rest && t != "" {
		r.because("has a space after its sign")
		rest = t
	}
	return sign, rest
}

// digits puts the digits of a number, and what stands between them, in order.
func (r *repair) digits(s string) string {
	if strings.ContainsAny(s, "_' ") {
		r.because("has a separator between its digits")
		s = strings.NewReplacer("_", "", "'", "", " ", "").Replace(s)
	}
	switch commas := strings.Count(s, ","); {
	case commas == 1 && !strings.Contains(s, "."):
		r.because("has a decimal comma")
		s = strings.Replace(s, ",", ".", 1)
	case commas > 0:
		r.because("has commas between its digits")
		s = strings.ReplaceAll(s, ",", "")
	}
	if strings.HasPrefix(s, ".") {
		r.because("has no digit before its decimal point")
		s = "0" + s
	}
	if strings.HasSuffix(s, ".") {
		r.because("has no digit after its decimal point")
		s = strings.TrimSuffix(s, ".")
	}
	if len(s) > 1 && s[0] == '0' && s[1] != '.' {
		r.because("has a leading zero")
		if s = strings.TrimLeft(s, "0"); s == "" || s[0] == '.' {
			s = "0" + s
		}
	}
	return s
}

// unit puts the unit behind the number.
func (r *repair) unit(num, unit string, all []string) string {
	switch {
	case unit == "":
		r.because(noUnit)
		return num
	case slices.Contains(all, unit):
		return num + " " + unit
	}
	for _, u := range all {
		// From m to M would be a guess over nine decades.
		if unit[0] == 'm' && u[0] == 'M' {
			continue
		}
		if strings.EqualFold(u, unit) {
			r.because("has its unit in the wrong case")
			return num + " " + u
		}
		if len(u) < 2 || u[0] == 'd' || !strings.EqualFold(u[:1], unit[:1]) {
			continue
		}
		switch more := unit[1:]; {
		case more == "":
			r.because("has a prefix without a unit")
			return num + " " + u
		case strings.Trim(more, "0123456789") == "" && !strings.Contains(num, "."):
			r.because("has a prefix instead of a decimal point")
			return num + "." + more + " " + u
		}
	}
	return num + " " + unit
}

// bounds is what is wrong with a value's size, as the end of "it must be …"; ""
// where nothing is.
func (t *Type) bounds(x float64, dim Dim) string {
	low, high := t.limits()
	show := func(v float64) string {
		if dim == "" {
			return strconv.FormatFloat(v, 'g', -1, 64)
		}
		return written(v, dim)
	}
	below := x < low || t.Open && x == low
	above := x > high || t.Open && x == high
	lo, hi := !math.IsInf(low, -1), !math.IsInf(high, 1)
	switch {
	case !below && !above:
		return ""
	case lo && hi && t.Open:
		return "more than " + show(low) + " and less than " + show(high)
	case lo && hi:
		return "from " + show(low) + " to " + show(high)
	case lo && t.Open:
		return "more than " + show(low)
	case lo:
		return "at least " + show(low)
	case t.Open:
		return "less than " + show(high)
	default:
		return "at most " + show(high)
	}
}

// limits are Min and Max as Type documents them.
func (t *Type) limits() (low, high float64) {
	switch {
	case t.Max != 0:
		return t.Min, t.Max
	case t.Min < 0:
		return t.Min, 0
	case t.Min > 0 || t.Open:
		return t.Min, math.Inf(1)
	}
	return math.Inf(-1), math.Inf(1)
}
