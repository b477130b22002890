package scenarios_test

import (
	"fmt"
	"os"
	"regexp"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/wiring"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
	"sinkproof/fixtures/source"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// benchOne and handLamp are the shipped rig and product that files under test
// are proved against.
func benchOne(tb testing.TB) *wiring.Rig {
	tb.Helper()
	f, err := shippedRig()
	require.NoError(tb, err)
	return f.Rig
}

// shippedRig loads the rig once: its safety proof takes longer than a run, and
// nobody changes a rig.
var shippedRig = sync.OnceValues(func() (*fixtures.Fixture, error) { return fixtures.Shipped("bench-one") })

func shippedProduct(tb testing.TB, name string) *product.Product {
	tb.Helper()
	p, _, err := product.Shipped(name)
	require.NoError(tb, err)
	return p
}

// loadText loads a scenario from memory; mistakes in its syntax come first.
func loadText(tb testing.TB, name string, src []byte) (*scenarios.Scenario, source.Diagnostics) {
	tb.Helper()
	file, found := source.Parse(name, src)
	if found.HasErrors() {
		return nil, found
	}
	return scenarios.Load(file, benchOne(tb), shippedProduct(tb, "hand-lamp"))
}

// example is one block of the specification.
type example struct {
	name  string
	whole bool // loads without a mistake
	text  []byte
}

func examples(tb testing.TB) []example {
	tb.Helper()
	page, err := os.ReadFile("LANGUAGE.md")
	require.NoError(tb, err)
	var out []example
	for i, m := range regexp.MustCompile("(?s)```hcl([a-z ]*)\n(.*?)```").FindAllSubmatch(page, -1) {
		out = append(out, example{fmt.Sprintf("example-%d.hcl", i+1), string(m[1]) == " whole", m[2]})
	}
	return out
}

func TestExamplesOfTheSpecificationAreAsTheySay(t *testing.T) {
	all := examples(t)
	require.Len(t, all, 9)
	for _, e := range all {
		t.Run(e.name, func(t *testing.T) {
			sc, found := loadText(t, e.name, e.text)
			require.Empty(t, source.Unmet(e.text, found))
			require.Equal(t, e.whole, sc != nil, "a whole example loads, another one does not")
		})
	}
}

// A whole example is not only read: a good unit passes it.
func TestGoodUnitPassesTheWholeExamples(t *testing.T) {
	for _, e := range examples(t) {
		if !e.whole {
			continue
		}
		t.Run(e.name, func(t *testing.T) {
			file, found := source.Parse(e.name, e.text)
			require.NoError(t, found.Err())
			prod := shippedProduct(t, "hand-lamp")
			s := openStation(t, benchOne(t), prod, prod, file)
			run := s.run("GOOD-1")
			require.Equal(t, record.Pass, run.Verdict, run.Reason)
			require.Empty(t, run.NotObservable)
		})
	}
}

func TestShippedScenariosAreInTheOneLayout(t *testing.T) {
	require.Equal(t, []string{"charge-path", "no-cell", "terminations-only"}, scenarios.Names())
	for _, name := range scenarios.Names() {
		file, err := scenarios.Shipped(name)
		require.NoError(t, err)
		require.Equal(t, string(source.Format(file.Bytes)), string(file.Bytes), name)
	}
}

func TestShippedScenariosLoadForEveryShippedProduct(t *testing.T) {
	rig := benchOne(t)
	for _, name := range scenarios.Names() {
		for _, p := range product.Names() {
			file, err := scenarios.Shipped(name)
			require.NoError(t, err)
			sc, found := scenarios.Load(file, rig, shippedProduct(t, p))
			require.Empty(t, found, "%s for %s", name, p)
			require.NotEmpty(t, sc.Checks(), "%s for %s", name, p)
		}
	}
}

// What a product makes impossible is listed, with the reason.
func TestChecksThatAreNotObservableAreListed(t *testing.T) {
	file, err := scenarios.Shipped("charge-path")
	require.NoError(t, err)
	rig := benchOne(t)
	names := map[string][]string{}
	for _, p := range product.Names() {
		sc, _ := scenarios.Load(file, rig, shippedProduct(t, p))
		for _, c := range sc.Checks() {
			names[p] = append(names[p], c.Name)
		}
		for _, n := range sc.NotObservable {
			require.NotEmpty(t, n.Why, n.Check)
			names[p] = append(names[p], n.Check)
		}
		slices.Sort(names[p])
	}
	require.Equal(t, names["hand-lamp"], names["desk-sensor"], "no check is dropped for one product")
	require.Equal(t, names["hand-lamp"], names["key-tag"], "no check is dropped for one product")
	sc, _ := scenarios.Load(file, rig, shippedProduct(t, "key-tag"))
	require.Contains(t, sc.NotObservable, record.NotObservable{
		Check: "end-of-charge", Title: "No charge into a cell of 4.25 V", Why: "the bench is not on the pads of its cell",
	})
}
