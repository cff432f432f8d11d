package judge

import (
	"encoding/json"
	"os"
	"testing"
)

func TestDocket(t *testing.T) {
	var ds []map[string]any
	for _, w := range generated() {
		x := newTrial(t, w.name, w.system, compiled(t, w.name, w.text))
		ds = append(ds, map[string]any{"name": w.name, "description": w.system, "result": string(x.json), "combinations": x.combinations()})
	}
	b, _ := json.Marshal(ds)
	os.WriteFile("/tmp/dump/docket.json", b, 0o644)
}
