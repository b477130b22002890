package typec

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/quantity"
)

// column is one pull-up of testdata/cc_volts.csv.
type column struct {
	name string
	a    Advertisement
	form Form
}

func columns() []column {
	return []column{
		{"80 uA", Default, CurrentSource}, {"180 uA", A1500, CurrentSource}, {"330 uA", A3000, CurrentSource},
		{"56k/5V", Default, To5V}, {"22k/5V", A1500, To5V}, {"10k/5V", A3000, To5V},
		{"36k/3.3V", Default, To3V3}, {"12k/3.3V", A1500, To3V3}, {"4.7k/3.3V", A3000, To3V3},
	}
}

func loadOhms(t *testing.T, text string) float64 {
	var all []float64
	for _, f := range strings.Fields(text) {
		all = append(all, number(t, f))
	}
	return ParallelOhms(all...)
}

func TestEveryLoadUnderEveryPullUp(t *testing.T) {
	rows := readCSV(t, "cc_volts.csv")
	require.Len(t, rows, 17)
	cells := 0
	for _, row := range rows {
		t.Run(row["load"], func(t *testing.T) {
			for _, c := range columns() {
				printed, seen, _ := strings.Cut(row[c.name], " ")
				v := quantity.Volts(NominalPullUp(c.a, c.form).Volts(loadOhms(t, row["ohms"])))
				require.InDelta(t, number(t, printed), v.SI, 5.1e-4, c.name)
				cells++

				decided := Decide(v, c.a)
				require.Equal(t, strings.TrimSuffix(seen, "*"), decided.String(), c.name)
				guaranteed := Classify(v, c.a, R20)
				if decided == Rd {
					require.Equal(t, strings.HasSuffix(seen, "*"), guaranteed.Between(), c.name)
				}
				requireCompatible(t, decided, guaranteed)
			}
		})
	}
	require.Equal(t, 17*9, cells)
}

// requireCompatible: what typical comparators decide is possible under the
// guaranteed windows.
func requireCompatible(t require.TestingT, decided, guaranteed Termination) {
	allowed := map[Termination][]Termination{
		Ra: {Ra}, RaOrRd: {Ra, Rd}, Rd: {Rd}, RdOrOpen: {Rd, Open}, Open: {Open},
	}
	require.Contains(t, allowed[guaranteed], decided)
}

func TestLegalTerminationsUnderCurrentSourcesOfR25(t *testing.T) {
	// R2.5 Table 4-37: a legal Rd or Ra in front of a legal current source is
	// in its window, at every corner.
	const slack = 5e-4 // the printed limits are rounded to a millivolt
	for _, a := range Advertisements() {
		rp := Rp(a, CurrentSource)
		for _, i := range []float64{rp.Min.SI, rp.Typ.SI, rp.Max.SI} {
			for _, r := range []float64{4080, 5100, 6120} {
				v := i * r
				window := SourceRd(a, R25)
				require.GreaterOrEqual(t, v, window.Min.SI-slack)
				require.LessOrEqual(t, v, window.Max.SI+slack)
			}
			for _, r := range []float64{800, 1000, 1200} {
				require.LessOrEqual(t, i*r, SourceRa(a, R25).Max.SI+slack)
			}
			require.Equal(t, Open, Classify(quantity.Volts(min(i*126e3, 5)), a, R25), "zOPEN reads as open")
		}
		for _, clamp := range []float64{0.88, 1.1, 1.32} {
			require.Equal(t, Rd, Classify(quantity.Volts(clamp), a, R25), "dead-battery clamp")
		}
	}
}

func TestClassifyAtTheLimits(t *testing.T) {
	cases := []struct {
		name  string
		volts float64
		a     Advertisement
		rev   Revision
		want  Termination
	}{
		{"below ground", -0.2, Default, R20, Ra},
		{"top of Ra", 0.15, Default, R20, Ra},
		{"above Ra", 0.151, Default, R20, RaOrRd},
		{"bottom of Rd", 0.25, Default, R20, Rd},
		{"top of Rd", 1.5, Default, R20, Rd},
		{"above Rd", 1.51, Default, R20, RdOrOpen},
		{"vOPEN", 1.65, Default, R20, Open},
		{"1.5 A, Ra", 0.35, A1500, R20, Ra},
		{"1.5 A, Rd", 0.45, A1500, R20, Rd},
		{"3.0 A, zone", 0.842, A3000, R20, RaOrRd},
		{"3.0 A, Rd", 2.45, A3000, R20, Rd},
		{"3.0 A, vOPEN", 2.75, A3000, R20, Open},
		{"R2.5, Ra", 0.115, Default, R25, Ra},
		{"R2.5, zone", 0.116, Default, R25, RaOrRd},
		{"R2.5, Rd", 0.261, Default, R25, Rd},
		{"R2.5, above Rd", 1.321, Default, R25, RdOrOpen},
		{"R2.5, open", 1.57, Default, R25, Open},
		{"R2.5, 3.0 A zone", 0.429, A3000, R25, RaOrRd},
		{"not a number", math.NaN(), Default, R20, Unknown},
		{"no such advertisement", 0.4, Advertisement(7), R20, Unknown},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, Classify(quantity.Volts(c.volts), c.a, c.rev))
		})
	}
	require.Equal(t, Unknown, Classify(quantity.Amperes(1), Default, R20))
	require.Equal(t, Unknown, Decide(quantity.Amperes(1), Default))
	require.Equal(t, Unknown, Decide(quantity.Volts(1), Advertisement(7)))
	require.Equal(t, "unknown, Ra, Ra or Rd, Rd, Rd or open, open", strings.Join([]string{
		Unknown.String(), Ra.String(), RaOrRd.String(), Rd.String(), RdOrOpen.String(), Open.String()}, ", "))
}

func TestAdvertisedAtTheLimits(t *testing.T) {
	cases := []struct {
		name  string
		volts float64
		rev   Revision
		want  Offer
	}{
		{"below ground", -0.2, R20, NoOffer},
		{"top of open", 0.15, R20, NoOffer},
		{"zone below default", 0.2, R20, NoneOrDefault},
		{"default", 0.25, R20, OffersDefault},
		{"top of default", 0.61, R20, OffersDefault},
		{"zone below 1.5 A", 0.66, R20, DefaultOr1500},
		{"1.5 A", 0.7, R20, Offers1500},
		{"zone below 3.0 A", 1.23, R20, From1500Or3000},
		{"3.0 A", 1.31, R20, Offers3000},
		{"top of 3.0 A", 2.04, R20, Offers3000},
		{"a short to VBUS", 5, R20, AboveOffers},
		{"R2.5 disconnected", 0.276, R25, NoOffer},
		{"R2.5 default", 0.277, R25, OffersDefault},
		{"R2.5 zone from", 0.613, R25, DefaultOr1500},
		{"R2.5 zone to", 0.745, R25, DefaultOr1500},
		{"R2.5 1.5 A", 0.746, R25, Offers1500},
		{"R2.5 upper zone", 1.165, R25, From1500Or3000},
		{"R2.5 3.0 A", 1.369, R25, Offers3000},
		{"not a number", math.NaN(), R25, UnknownOffer},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got := Advertised(quantity.Volts(c.volts), c.rev)
			require.Equal(t, c.want, got, got.String())
		})
	}
	require.Equal(t, UnknownOffer, Advertised(quantity.Ohms(1), R20))
	require.Equal(t, UnknownOffer, DecideOffer(quantity.Ohms(1)))
	for _, a := range Advertisements() {
		typ := NominalPullUp(a, CurrentSource).Volts(5100)
		got, ok := DecideOffer(quantity.Volts(typ)).Advertisement()
		require.True(t, ok)
		require.Equal(t, a, got)
	}
	require.Equal(t, NoOffer, DecideOffer(quantity.Volts(0.19)))
	_, ok := DefaultOr1500.Advertisement()
	require.False(t, ok)
	for o := UnknownOffer; o <= AboveOffers; o++ {
		zone := o == NoneOrDefault || o == DefaultOr1500 || o == From1500Or3000
		require.Equal(t, zone, o.Between(), o.String())
		require.Equal(t, zone, strings.Contains(o.String(), " or "), o.String())
	}
}

// inOrder draws two CC voltages, the first not above the second.
func inOrder(t *rapid.T) (low, high quantity.Quantity) {
	v := rapid.Float64Range(-0.5, 6)
	a, b := v.Draw(t, "a"), v.Draw(t, "b")
	return quantity.Volts(min(a, b)), quantity.Volts(max(a, b))
}

func TestClassifyIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low, high := inOrder(t)
		a := rapid.SampledFrom(Advertisements()).Draw(t, "advertisement")
		rev := rapid.SampledFrom(Revisions()).Draw(t, "revision")
		require.LessOrEqual(t, Classify(low, a, rev), Classify(high, a, rev))
		require.LessOrEqual(t, Decide(low, a), Decide(high, a))
		require.LessOrEqual(t, Advertised(low, rev), Advertised(high, rev))
		require.LessOrEqual(t, DecideOffer(low), DecideOffer(high))
		require.NotEqual(t, Unknown, Classify(low, a, rev))
		requireCompatible(t, Decide(low, a), Classify(low, a, R20))
	})
}

func TestSourceAndSinkAgree(t *testing.T) {
	// A sink with legal Rd in front of a legal source of any form reads the
	// advertisement, and the source sees it: what the tables are for.
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.SampledFrom(Advertisements()).Draw(t, "advertisement")
		form := rapid.SampledFrom(Forms()).Draw(t, "form")
		rp, supply, rd := Rp(a, form), PullUpSupply(form), RdWindow(Within10)
		pull := rapid.Float64Range(rp.Min.SI, rp.Max.SI).Draw(t, "pull-up")
		rail := rapid.Float64Range(supply.Min.SI, supply.Max.SI).Draw(t, "rail")
		load := rapid.Float64Range(rd.Min.SI, rd.Max.SI).Draw(t, "Rd")
		p := PullUp{Form: form, Amperes: pull, RailVolts: max(rail, 2.5)}
		if form != CurrentSource {
			p = PullUp{Form: form, Ohms: pull, RailVolts: rail}
		}
		v := quantity.Volts(p.Volts(load))
		require.Equal(t, Rd, Classify(v, a, R20))
		got, ok := DecideOffer(v).Advertisement()
		require.True(t, ok)
		require.Equal(t, a, got)
	})
}
