package language

import "strings"

// EnumName is the part of a C enumeration constant that stands for a setting or
// a choice: capitals, a sign before a number as MINUS_ or PLUS_, every other
// sign as _. "-1.5 dB" is MINUS_1_5_DB.
func EnumName(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		c := s[i]
		signs := (i == 0 || s[i-1] == ' ') && i+1 < len(s) && (s[i+1] >= '0' && s[i+1] <= '9' || s[i+1] == '.')
		switch {
		case c >= 'a' && c <= 'z':
			b.WriteByte(c - 'a' + 'A')
		case c >= 'A' && c <= 'Z', c >= '0' && c <= '9':
			b.WriteByte(c)
		case c == '-' && signs:
			b.WriteString("MINUS_")
		case c == '+' && signs:
			b.WriteString("PLUS_")
		default:
			b.WriteByte('_')
		}
	}
	return b.String()
}

// identifier is a name as part of a C identifier.
func identifier(name string) string { return strings.ReplaceAll(name, "-", "_") }

// sumOfWays stands where findings of the sum of all ways would have a way's
// name, so no way may have it.
const sumOfWays = "sum"

// reserved reports whether s is a keyword of C (ISO/IEC 9899:2024, 6.4.1) or of
// C++ (ISO/IEC 14882:2020, 5.11), or a macro of the standard headers that read
// like one.
func reserved(s string) bool {
	for _, w := range strings.Fields(reservedWords) {
		if s == w {
			return true
		}
	}
	return false
}

const reservedWords = `
alignas alignof and and_eq asm auto bitand bitor bool break case catch char char8_t char16_t char32_t class co_await
co_return co_yield compl concept const const_cast consteval constexpr constinit continue decltype default delete do
double dynamic_cast else enum explicit export extern false float for friend goto if inline int long main mutable
namespace new noexcept not not_eq nullptr operator or or_eq private protected public register reinterpret_cast requires
restrict return short signed sizeof static static_assert static_cast struct switch template this thread_local throw true
try typedef typeid typename typeof typeof_unqual union unsigned using virtual void volatile wchar_t while xor xor_eq`
