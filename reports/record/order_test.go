package record

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTheKeyOfAnOrderFitsOnePlaceOfTheChain(t *testing.T) {
	o := sampleOrder()
	require.Len(t, o.Key(Genesis), 32)
	require.NotEqual(t, o.Key(Genesis), o.Key(strings.Repeat("1", 64)))
	require.Equal(t, o.Key(Genesis), LotDraw{Seed: o.Seed}.Key(Genesis), "made as that of a lot's sample")
	o.Seed = "x"
	require.Nil(t, o.Key(Genesis))
}

func TestOrdersAreReadBack(t *testing.T) {
	data, err := sampleOrder().encode()
	require.NoError(t, err)
	o, err := DecodeTestOrder(data)
	require.NoError(t, err)
	require.Equal(t, sampleOrder(), o)
	_, err = DecodeTestOrder([]byte(`{"schema":"sinkproof-test-order/2"}`))
	require.ErrorIs(t, err, ErrSchema)
}

func TestBrokenOrdersAreRefusedTwice(t *testing.T) {
	schema := published(t, TestOrderSchema)
	for name, c := range map[string]struct {
		change func(*TestOrder)
		beyond bool
	}{
		"id":                    {func(o *TestOrder) { o.ID = "7" }, false},
		"bench":                 {func(o *TestOrder) { o.Bench.Name = "" }, false},
		"made":                  {func(o *TestOrder) { o.Made = "today" }, false},
		"nobody":                {func(o *TestOrder) { o.By = "" }, false},
		"product":               {func(o *TestOrder) { o.Product = "" }, false},
		"candidate":             {func(o *TestOrder) { o.Candidate = "" }, false},
		"one supplier":          {func(o *TestOrder) { o.Candidate = o.Incumbent }, true},
		"nests":                 {func(o *TestOrder) { o.Nests = 0 }, false},
		"days":                  {func(o *TestOrder) { o.Days = 1001 }, false},
		"seatings":              {func(o *TestOrder) { o.Seatings = -1 }, false},
		"seed":                  {func(o *TestOrder) { o.Seed = "17" }, false},
		"one lot":               {func(o *TestOrder) { o.Lots = o.Lots[:1] }, false},
		"unnamed lot":           {func(o *TestOrder) { o.Lots[0].Lot = "" }, false},
		"empty lot":             {func(o *TestOrder) { o.Lots[0].Serials = nil }, false},
		"lot of somebody":       {func(o *TestOrder) { o.Lots[0].Supplier = "board house C" }, true},
		"serial":                {func(o *TestOrder) { o.Lots[0].Serials[0] = "ä" }, false},
		"a board twice":         {func(o *TestOrder) { o.Gauge[0] = "A-1" }, true},
		"no gauge study":        {func(o *TestOrder) { o.Gauge = nil }, false},
		"no turn":               {func(o *TestOrder) { o.Turns = nil }, false},
		"turn of another board": {func(o *TestOrder) { o.Turns[0].Serial = "C-1" }, true},
		"turn in no nest":       {func(o *TestOrder) { o.Turns[0].Nest = 0 }, false},
		"turn elsewhere":        {func(o *TestOrder) { o.Turns[0].Nest = 2 }, true},
		"turn on no day":        {func(o *TestOrder) { o.Turns[0].Day = 3 }, true},
	} {
		o := sampleOrder()
		c.change(&o)
		_, err := o.encode()
		require.ErrorIs(t, err, ErrInvalid, name)
		data, err := json.Marshal(testOrderDocument{TestOrderSchema, o})
		require.NoError(t, err)
		require.Equal(t, c.beyond, accepts(t, schema, data) == nil, name)
	}
}
