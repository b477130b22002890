package main

import (
	"context"
	"fmt"
	"path/filepath"
	"time"

	"sinkproof/reports/record"
)

// supplierOrder gives the boards of the act in the order in which they are tested, drawn and
// kept as everybody's are, the evening before the first day.
func (f *demoFlags) supplierOrder(ctx context.Context, s *station, made []supplied) ([]supplied, error) {
	ask := record.TestOrder{
		By: demoBuyer, Product: s.papers.product.Name, Candidate: newSupplier, Incumbent: demoSupplier,
		Nests: supplierNests, Days: supplierDays, Seatings: gaugeSeatings,
	}
	boards := map[string]supplied{}
	for _, b := range made {
		boards[b.serial] = b
		if n := len(ask.Lots); n == 0 || ask.Lots[n-1].Lot != b.lot {
			ask.Lots = append(ask.Lots, record.OrderedLot{Supplier: b.supplier, Lot: b.lot})
		}
		last := &ask.Lots[len(ask.Lots)-1]
		last.Serials = append(last.Serials, b.serial)
	}
	for part := range gaugeParts {
		serial := fmt.Sprintf("G-%02d", part+1)
		ask.Gauge = append(ask.Gauge, serial)
		boards[serial] = supplied{serial: serial, lot: gaugeLot, truth: "good", pinned: true}
	}
	o, err := s.drawOrder(ctx, ask, f.firstShift(0).Add(-evening))
	if err != nil {
		return nil, err
	}
	if err := writeOrder(filepath.Join(f.out, "order.csv"), o.TestOrder); err != nil {
		return nil, err
	}
	var plan []supplied
	for _, t := range o.Turns {
		b := boards[t.Serial]
		b.nest, b.day = t.Nest, t.Day-1
		plan = append(plan, b)
	}
	return plan, nil
}

// demoBuyer has the order drawn, so long before the first shift.
const (
	demoBuyer = "B. Buyer"
	evening   = 12 * time.Hour
)
