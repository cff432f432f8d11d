package wave

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Reader reads a file from its head on.
type Reader struct {
	Shape
	// Comment is the one in front of the samples, "" for none.
	Comment string

	r    *bufio.Reader
	at   int64 // bytes of the file that were taken in front of the samples
	ends int64 // where the head says that the file ends; 0 where it does not say
	left int64 // bytes of samples that are still to come; -1 up to the end
	got  int64 // frames read
	buf  []byte
}

// NewReader reads up to the first sample. An error says why the file is refused; one
// that wraps what r returned is r's.
func NewReader(r io.Reader) (*Reader, error) {
	f := &Reader{r: bufio.NewReaderSize(r, 1<<16)}
	var head [12]byte
	if err := f.take(head[:]); err != nil {
		return nil, orNone(err)
	}
	switch id := string(head[:4]); {
	case string(head[8:]) != "WAVE":
		return nil, errNone
	case id == "RF64" || id == "RIFX" || id == "BW64":
		return nil, fmt.Errorf("its form is %s; plain RIFF is read", id)
	case id != "RIFF":
		return nil, errNone
	}
	if size := binary.LittleEndian.Uint32(head[4:]); size != 0 && size != unknown {
		f.ends = 8 + int64(size)
	}
	for {
		var c [8]byte
		if err := f.take(c[:]); err != nil {
			return nil, cut(err, "in front of its samples")
		}
		size := binary.LittleEndian.Uint32(c[4:])
		if string(c[:4]) == "data" {
			return f, f.data(size)
		}
		if err := f.chunk(string(c[:4]), size); err != nil {
			return nil, err
		}
	}
}

// orNone is an error of reading the very head: a short file is none of this kind.
func orNone(err error) error {
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		return errNone
	}
	return err
}

// cut is an error of reading where more has to follow.
func cut(err error, where string) error {
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		return errors.New("it ends " + where)
	}
	return err
}

func (f *Reader) take(b []byte) error {
	n, err := io.ReadFull(f.r, b)
	f.at += int64(n)
	return err
}

// unknown is the size of a chunk, or of the whole file, that goes on to its end: it was
// written to a pipe.
const unknown = 0xFFFFFFFF

// kept (bytes) is how much of a chunk is looked at; the rest is passed over.
const kept = 1 << 12

// chunk reads one in front of the samples.
func (f *Reader) chunk(id string, size uint32) error {
	b := make([]byte, min(size, kept))
	err := f.take(b)
	if err == nil {
		rest := int64(size) - int64(len(b)) + int64(size%2) // chunks begin at even places
		n := int64(0)
		n, err = io.CopyN(io.Discard, f.r, rest)
		f.at += n
	}
	if err != nil {
		return cut(err, "in its chunk "+printable(id))
	}
	switch id {
	case "fmt ":
		return f.format(b)
	case "LIST":
		f.Comment = comment(b)
	}
	return nil
}

// printable is the name of a chunk, whatever bytes it is made of.
func printable(id string) string { return fmt.Sprintf("%q", strings.TrimRight(id, " ")) }

// format reads the chunk that says what samples are.
func (f *Reader) format(b []byte) error {
	const plain, extended = 16, 26
	if len(b) < plain {
		return errors.New("its chunk \"fmt\" is too short")
	}
	u16 := func(at int) int { return int(binary.LittleEndian.Uint16(b[at:])) }
	tag := u16(0)
	if tag == tagExtensible {
		if len(b) < extended {
			return errors.New("its chunk \"fmt\" is too short")
		}
		tag = u16(24)
	}
	f.Channels, f.RateHz = u16(2), int(binary.LittleEndian.Uint32(b[4:]))
	f.Words = Words{Bits: u16(14), Float: tag == tagFloat}
	switch {
	case tag != tagInteger && tag != tagFloat:
		return fmt.Errorf("its samples are coded (tag %d); integers and floating point are read", tag)
	case !f.Words.known():
		return fmt.Errorf("its samples have %d bits; integers of 8, 16, 24 and 32 bits and floating point of 32 and 64 bits are read", f.Words.Bits)
	case f.Channels < 1 || f.Channels > MaxChannels:
		return fmt.Errorf("it claims %d channels; files with 1 to %d are read", f.Channels, MaxChannels)
	case f.RateHz == 0:
		return errors.New("it claims a rate of 0 Hz")
	case u16(12) != f.Channels*f.Words.bytes():
		return fmt.Errorf("it claims %d bytes a frame, where %d channels of %d bits have %d", u16(12), f.Channels, f.Words.Bits, f.Channels*f.Words.bytes())
	}
	return nil
}

// comment is the text ICMT of a list INFO.
func comment(b []byte) string {
	if !bytes.HasPrefix(b, []byte("INFO")) {
		return ""
	}
	for b = b[4:]; len(b) >= 8; {
		id, size := string(b[:4]), int64(binary.LittleEndian.Uint32(b[4:]))
		b = b[8:]
		text := b[:min(size, int64(len(b)))]
		if id == "ICMT" {
			text, _, _ = bytes.Cut(text, []byte{0})
			return string(text)
		}
		b = b[min(size+size%2, int64(len(b))):]
	}
	return ""
}

// data is the head of the samples. Recorders that were stopped before they could write how
// many there are leave 0, or what a pipe has: then they go on to the end of the file.
func (f *Reader) data(size uint32) error {
	if f.Channels == 0 {
		return errors.New("it has no chunk \"fmt\" in front of its samples")
	}
	frame := int64(f.Channels * f.Words.bytes())
	switch none, err := f.empty(size); {
	case err != nil:
		return err
	case none:
		return errors.New("it has no samples")
	case size == unknown || size == 0:
		f.left, f.Frames = -1, -1
	case int64(size)%frame != 0:
		return fmt.Errorf("its samples end within a frame: %d bytes in frames of %d", size, frame)
	default:
		f.left, f.Frames = int64(size), int64(size)/frame
	}
	return nil
}

// empty reports whether no sample follows the head of the samples: the file ends there, or
// goes on with another chunk that is whole within what the file's own head claims.
func (f *Reader) empty(size uint32) (bool, error) {
	next, err := f.r.Peek(8)
	switch {
	case len(next) == 0 && (size == 0 || size == unknown):
		return errors.Is(err, io.EOF), orMore(err)
	case len(next) < 8 || size != 0:
		return false, nil
	}
	for _, c := range next[:4] {
		if c < ' ' || c > '~' {
			return false, nil
		}
	}
	return f.at+8+int64(binary.LittleEndian.Uint32(next[4:])) <= f.ends, nil
}

// orMore is an error of looking further where the file may end.
func orMore(err error) error {
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}

// Read fills the channels' slices, all of one length, from the front, and returns how
// many frames it has read. At the end it returns 0 and io.EOF; an end where the head
// promises more is an error that says so.
func (f *Reader) Read(channels [][]float64) (int, error) {
	width := f.Words.bytes()
	frame := width * f.Channels
	want := len(channels[0]) * frame
	if f.left >= 0 {
		want = int(min(int64(want), f.left))
	}
	if want == 0 {
		return 0, io.EOF
	}
	if cap(f.buf) < want {
		f.buf = make([]byte, want)
	}
	b := f.buf[:want]
	n, err := io.ReadFull(f.r, b)
	switch {
	case errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF):
		if f.left >= 0 {
			return 0, fmt.Errorf("it ends after %d of %d frames", f.got+int64(n/frame), f.Frames)
		}
		if n/frame == 0 {
			return 0, io.EOF
		}
	case err != nil:
		return 0, err
	}
	frames := n / frame
	for i := range frames {
		for c := range f.Channels {
			channels[c][i] = f.Words.get(b[i*frame+c*width:])
		}
	}
	f.got += int64(frames)
	if f.left >= 0 {
		f.left -= int64(n)
	}
	return frames, nil
}
