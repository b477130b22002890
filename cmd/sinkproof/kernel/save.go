package kernel

import (
	"context"
	"encoding/json"
	"fmt"
	"time"
)

// Save writes the state of a machine to a file, from which others go on, and
// leaves it standing still. Its disks are flushed.
func (m *Machine) Save(ctx context.Context, path string) error {
	q := &monitor{in: json.NewDecoder(m.monitor.conn), out: json.NewEncoder(m.monitor.conn)}
	if deadline, ok := ctx.Deadline(); ok {
		if err := m.monitor.conn.SetDeadline(deadline); err != nil {
			return fmt.Errorf("save the machine: %w", err)
		}
	}
	if _, err := q.do("qmp_capabilities", nil); err != nil {
		return fmt.Errorf("save the machine: %w", err)
	}
	if _, err := q.do("migrate", map[string]any{"uri": "exec:cat > '" + path + "'"}); err != nil {
		return fmt.Errorf("save the machine: %w", err)
	}
	for {
		answer, err := q.do("query-migrate", nil)
		if err != nil {
			return fmt.Errorf("save the machine: %w", err)
		}
		switch answer.Status {
		case "completed":
			return nil
		case "failed", "cancelled":
			return fmt.Errorf("save the machine: %s: %w", answer.Status, ErrMachine)
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("save the machine: %w", ctx.Err())
		case <-time.After(5 * time.Millisecond):
		}
	}
}

// monitor talks to the emulator: QMP, one JSON document after the other
// (docs/interop/qmp-spec.txt of QEMU). Events stand between the answers.
type monitor struct {
	in  *json.Decoder
	out *json.Encoder
}

type qmpAnswer struct {
	Status string `json:"status"`
}

func (q *monitor) do(what string, arguments map[string]any) (qmpAnswer, error) {
	request := map[string]any{"execute": what}
	if arguments != nil {
		request["arguments"] = arguments
	}
	if err := q.out.Encode(request); err != nil {
		return qmpAnswer{}, fmt.Errorf("%s: %w", what, err)
	}
	for {
		var said struct {
			Return *qmpAnswer `json:"return"`
			Error  *struct {
				Text string `json:"desc"`
			} `json:"error"`
		}
		if err := q.in.Decode(&said); err != nil {
			return qmpAnswer{}, fmt.Errorf("%s: %w", what, err)
		}
		if said.Error != nil {
			return qmpAnswer{}, fmt.Errorf("%s: %s: %w", what, said.Error.Text, ErrMachine)
		}
		if said.Return != nil {
			return *said.Return, nil
		}
	}
}
