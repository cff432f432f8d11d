package wave

import (
	"encoding/binary"
	"errors"
	"io"
	"math"
)

// ErrTooLong is why no more frames can be written.
var ErrTooLong = errors.New("a WAVE file holds at most 4 GiB")

// Writer writes a file from its head on.
type Writer struct {
	shape   Shape
	comment string
	w       io.WriteSeeker
	head    int   // bytes in front of the samples
	bytes   int64 // of samples
	buf     []byte
}

// NewWriter writes the head. The comment, plain ASCII, stands in front of the samples. Close
// writes how many frames there are, so that shape.Frames does not count.
func NewWriter(w io.WriteSeeker, shape Shape, comment string) (*Writer, error) {
	f := &Writer{shape: shape, comment: comment, w: w}
	b := f.header(0)
	f.head = len(b)
	_, err := w.Write(b)
	return f, err
}

// header is the file up to its first sample, for so many bytes of samples.
func (f *Writer) header(samples uint32) []byte {
	le := binary.LittleEndian
	s := f.shape
	frame := s.Channels * s.Words.bytes()
	body := []byte("WAVE")
	chunk := func(id string, data []byte) {
		body = le.AppendUint32(append(body, id...), uint32(len(data)))
		body = append(body, data...)
		if len(data)%2 == 1 {
			body = append(body, 0)
		}
	}
	tag := uint16(tagInteger)
	if s.Words.Float {
		tag = tagFloat
	}
	form := le.AppendUint16(nil, tag)
	form = le.AppendUint16(form, uint16(s.Channels))
	form = le.AppendUint32(form, uint32(s.RateHz))
	form = le.AppendUint32(form, uint32(s.RateHz*frame))
	form = le.AppendUint16(form, uint16(frame))
	form = le.AppendUint16(form, uint16(s.Words.Bits))
	if s.Words.Float { // what is not of integers has a size of extensions, and a fact
		form = le.AppendUint16(form, 0)
	}
	chunk("fmt ", form)
	if s.Words.Float {
		chunk("fact", le.AppendUint32(nil, samples/uint32(frame)))
	}
	if f.comment != "" {
		text := append([]byte(f.comment), 0)
		if len(text)%2 == 1 {
			text = append(text, 0)
		}
		chunk("LIST", append(le.AppendUint32([]byte("INFOICMT"), uint32(len(text))), text...))
	}
	body = le.AppendUint32(append(body, "data"...), samples)
	riff := le.AppendUint32([]byte("RIFF"), uint32(len(body))+samples+samples%2)
	return append(riff, body...)
}

// Write adds frames: the channels' samples, all of one length. ErrTooLong means that
// they do not fit, and that none was written.
func (f *Writer) Write(channels [][]float64) error {
	f.buf = f.buf[:0]
	for i := range channels[0] {
		for _, c := range channels {
			f.buf = f.shape.Words.append(f.buf, c[i])
		}
	}
	if int64(f.head)+f.bytes+int64(len(f.buf)) >= math.MaxUint32 {
		return ErrTooLong
	}
	n, err := f.w.Write(f.buf)
	f.bytes += int64(n)
	return err
}

// Close writes the head again, with the sizes. The underlying writer stays open.
func (f *Writer) Close() error {
	if f.bytes%2 == 1 {
		if _, err := f.w.Write([]byte{0}); err != nil {
			return err
		}
	}
	if _, err := f.w.Seek(0, io.SeekStart); err != nil {
		return err
	}
	_, err := f.w.Write(f.header(uint32(f.bytes)))
	return err
}
