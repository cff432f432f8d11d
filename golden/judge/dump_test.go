package judge

import (
	"fmt"
	"os"
	"testing"
)

func TestDump(t *testing.T) {
	os.MkdirAll("/tmp/dump", 0o755)
	for _, w := range generated() {
		os.WriteFile("/tmp/dump/"+w.name+".yaml", []byte(w.text), 0o644)
		b := compiled(t, w.name, w.text)
		x := newTrial(t, w.name, w.system, b)
		os.WriteFile("/tmp/dump/"+w.name+".json", x.json, 0o644)
	}
	fmt.Println("ok")
}
