// Package wave reads and writes files of samples: RIFF files of the form WAVE, as of
// "Multimedia Programming Interface and Data Specifications 1.0" (1991), and its revision of
// 1994 for floating point and WAVE_FORMAT_EXTENSIBLE.
//
// Bytes come in and go out in a stream, so that long files need no more memory than
// short ones. What cannot be read is refused with a reason; sizes in the file are
// never believed further than bytes follow.
package wave

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// Words is how a file keeps a sample: integers of 8 (unsigned), 16, 24 or 32 bits, 2^(Bits-1)
// of them to full scale, or floating point of 32 or 64 bits, where full scale is 1.
type Words struct {
	Bits  int
	Float bool
}

func (w Words) String() string {
	if w.Float {
		return fmt.Sprintf("%d-bit floating point", w.Bits)
	}
	return fmt.Sprintf("%d bit", w.Bits)
}

func (w Words) known() bool {
	if w.Float {
		return w.Bits == 32 || w.Bits == 64
	}
	return w.Bits == 8 || w.Bits == 16 || w.Bits == 24 || w.Bits == 32
}

func (w Words) bytes() int { return w.Bits / 8 }

// Shape is what the head of a file says.
type Shape struct {
	RateHz   int // frames a second
	Channels int
	Words    Words
	// Frames is how many follow, one sample a channel each; -1 where the file was
	// written to a pipe, or its recorder stopped, and goes on to its end.
	Frames int64
}

// MaxChannels is more channels than any file of the trade has; a head that claims more
// is damaged.
const MaxChannels = 64

// The tags of the chunk `fmt `.
const (
	tagInteger    = 1
	tagFloat      = 3
	tagExtensible = 0xFFFE
)

// errNone is why a file is refused that is not of this kind at all.
var errNone = errors.New("it is no RIFF file of the form WAVE")

// get is the sample, 1 for full scale, of the bytes of a word.
func (w Words) get(b []byte) float64 {
	switch {
	case w.Float && w.Bits == 32:
		return float64(math.Float32frombits(binary.LittleEndian.Uint32(b)))
	case w.Float:
		return math.Float64frombits(binary.LittleEndian.Uint64(b))
	case w.Bits == 8:
		return (float64(b[0]) - 1<<7) / (1 << 7)
	case w.Bits == 16:
		return float64(int16(binary.LittleEndian.Uint16(b))) / (1 << 15)
	case w.Bits == 24:
		return float64(int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24)>>8) / (1 << 23)
	}
	return float64(int32(binary.LittleEndian.Uint32(b))) / (1 << 31)
}

// append adds the word nearest to a sample, which for integers stops at full scale.
func (w Words) append(b []byte, x float64) []byte {
	switch {
	case w.Float && w.Bits == 32:
		return binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(x)))
	case w.Float:
		return binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
	}
	full := math.Ldexp(1, w.Bits-1)
	n := int64(math.Max(-full, math.Min(full-1, math.RoundToEven(float64(x*full)))))
	switch w.Bits {
	case 8:
		return append(b, byte(n+1<<7))
	case 16:
		return binary.LittleEndian.AppendUint16(b, uint16(n))
	case 24:
		return append(b, byte(n), byte(n>>8), byte(n>>16))
	}
	return binary.LittleEndian.AppendUint32(b, uint32(n))
}
