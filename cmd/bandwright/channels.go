package main

import (
	"context"
	"errors"
	"io"
	"os"
	"strconv"
	"strings"

	"bandwright/compiler/wave"
)

// channelOf parts the name of a recording, "unit.wav:2", into its file and the channel of it, from 1; 0 where none is
// named.
func channelOf(name string) (file string, channel int) {
	k := strings.LastIndexByte(name, ':')
	if k < 1 {
		return name, 0
	}
	n, err := strconv.Atoi(name[k+1:])
	if _, is := os.Stat(name); is == nil || err != nil || n < 1 {
		return name, 0
	}
	return name[:k], n
}

// samples reads one channel of a recording.
func samples(ctx context.Context, name string) ([]float64, int, error) {
	file, channel := channelOf(name)
	data, err := readUpTo(ctx, file, sampleLimit)
	if err != nil {
		return nil, 0, err
	}
	r, err := wave.NewReader(strings.NewReader(string(data)))
	switch {
	case err != nil:
		return nil, 0, refused("%s cannot be read: %v", name, err)
	case channel == 0 && r.Channels > 1:
		return nil, 0, refused("%s has %d channels: say which one is meant, as in %s", name, r.Channels, code(name+":1"))
	case channel > r.Channels:
		return nil, 0, refused("%s has no channel %d, it has %d", file, channel, r.Channels)
	}
	var out []float64
	block := make([][]float64, r.Channels)
	for i := range block {
		block[i] = make([]float64, 1<<14)
	}
	for {
		n, err := r.Read(block)
		out = append(out, block[max(channel, 1)-1][:n]...)
		if errors.Is(err, io.EOF) {
			return out, r.RateHz, nil
		}
		if err != nil {
			return nil, 0, refused("%s cannot be read: %v", name, err)
		}
	}
}

// contents is a file of a measurement; of a named channel of several, a file of that alone.
func contents(ctx context.Context, name string) ([]byte, error) {
	file, channel := channelOf(name)
	if channel == 0 {
		return readUpTo(ctx, file, sampleLimit)
	}
	x, rate, err := samples(ctx, name)
	if err != nil {
		return nil, err
	}
	return waveFile(wave.Shape{RateHz: rate, Channels: 1, Words: wave.Words{Bits: 64, Float: true}}, "", [][]float64{x})
}
