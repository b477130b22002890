package findings

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality/proportion"
	"sinkproof/reports/record"
)

// Of units that the dictionary has not seen, those of faults that can be told
// apart are named first in 95 of 100 and first or second in 99; the two that
// coincide are a group, with nobody else in it.
func TestFaultsAreNamedAndThoseAlikeAreAGroup(t *testing.T) {
	d := kept(t, sampleDictionary(t, 120))
	groups := d.Groups()
	require.Len(t, groups, 1)
	require.Equal(t, dim, groups[0].Classes[0].Name)
	require.Equal(t, dark, groups[0].Classes[1].Name)
	// Over the half of dim that dark covers both are as likely, and dark's
	// density is twice as high: a third and two thirds. So dim's units give dark
	// half of two thirds, and dark's give dim one third.
	leak, ok := d.Confusion(dim, dark)
	require.True(t, ok)
	require.InDelta(t, 1.0/3, leak, 0.1)
	leak, ok = d.Confusion(dark, dim)
	require.True(t, ok)
	require.InDelta(t, 1.0/3, leak, 0.1)
	_, ok = d.Confusion(dark, "nobody")
	require.False(t, ok)

	first, second, n := 0, 0, 0
	for _, c := range sampleClasses() {
		if c.Name == dim || c.Name == dark {
			continue
		}
		for i := range 150 {
			s := d.Diagnose(sampleRun(c.Name, uint64(10_000+i)), d.Equal()).Suspects
			n++
			if s[0].Class.Name == c.Name {
				first++
				second++
			} else if len(s) > 1 && s[1].Class.Name == c.Name {
				second++
			}
		}
	}
	require.GreaterOrEqual(t, float64(first), 0.95*float64(n), "%d of %d", first, n)
	require.GreaterOrEqual(t, float64(second), 0.99*float64(n), "%d of %d", second, n)
}

// Probabilities mean what they say: of all the times that a class got about
// p, it was the class in about that share.
func TestProbabilitiesAreCalibrated(t *testing.T) {
	d := sampleDictionary(t, 150)
	type bin struct {
		n, hits  int
		expected float64
	}
	var bins [5]bin
	for _, c := range sampleClasses() {
		for i := range 300 {
			codes, _ := d.codes(SignatureOf(sampleRun(c.Name, uint64(20_000+i))), false)
			for j, p := range d.posterior(d.model.likelihoods(codes), d.Equal())[:len(d.Classes)] {
				b := &bins[min(4, int(p*5))]
				b.n++
				b.expected += p
				if d.Classes[j].Name == c.Name {
					b.hits++
				}
			}
		}
	}
	for i, b := range bins {
		if b.n == 0 {
			continue
		}
		exact := proportion.ClopperPearson(b.hits, b.n, 0.999)
		expected := b.expected / float64(b.n)
		t.Logf("from %.1f: %5d times, expected %.4f, observed %.4f (%.4f to %.4f)", float64(i)/5, b.n, expected, float64(b.hits)/float64(b.n), exact.Low, exact.High)
		require.True(t, expected > exact.Low-0.03 && expected < exact.High+0.03, "bin %d: %.4f is not in %.4f to %.4f", i, expected, exact.Low, exact.High)
	}
}

// A fault that the dictionary does not have is none of the known.
func TestAStrangerIsNoneOfTheKnown(t *testing.T) {
	for _, c := range []struct {
		left string
		most float64
	}{{openBoth, 0.9}, {weak, 0.9}, {short, 0.9}} {
		t.Run(c.left, func(t *testing.T) {
			d := sampleDictionary(t, 100, c.left)
			found := 0
			for i := range 100 {
				s := d.Diagnose(sampleRun(c.left, uint64(30_000+i)), d.Equal()).Suspects
				if s[0].Class.Name == Unknown {
					found++
					require.NotEmpty(t, s[0].For)
				}
			}
			require.GreaterOrEqual(t, found, int(100*c.most))
		})
	}
}

func TestReadingsSpeakInWords(t *testing.T) {
	d := sampleDictionary(t, 120)
	run := sampleRun(weak, 40_001)
	s := d.Diagnose(run, d.Equal()).Suspects[0]
	require.Equal(t, weak, s.Class.Name)
	require.Equal(t, "i[a]", s.For[0].Reading)
	require.Regexp(t, `^Charge current \(a\): \d+ mA; good units give 38\d mA to 4[12]\d mA$`, s.For[0].Text)
	require.Greater(t, s.For[0].Weight, leastWeight)
	for _, f := range s.For[1:] {
		require.NotContains(t, f.Text, "Charge current", "one reading speaks for all of its topic")
	}

	// Against one open pin speaks the pin that is not open.
	codes, _ := d.codes(SignatureOf(run), false)
	x := &trial{s: SignatureOf(run), codes: codes, like: d.model.likelihoods(codes)}
	_, against := d.testimony(1, d.posterior(x.like, d.Equal()), x)
	require.NotEmpty(t, against)
	require.Less(t, against[0].Weight, -leastWeight)
	var all []string
	for _, a := range against {
		all = append(all, a.Text)
	}
	require.Contains(t, strings.Join(all, "\n"), "; with this fault ")
}

func TestWhatIsNotReachedSpeaksToo(t *testing.T) {
	d := sampleDictionary(t, 60)
	s := d.Diagnose(sampleRun(short, 50_000), d.Equal()).Suspects[0]
	require.Equal(t, short, s.Class.Name)
	var all []string
	for _, f := range s.For {
		all = append(all, f.Text)
	}
	require.Contains(t, strings.Join(all, "\n"), "not reached; good units give ")
}

// Priors count: where readings leave two faults open, the commoner one is the
// likelier.
func TestPriorsDecideBetweenFaultsAlike(t *testing.T) {
	d := sampleDictionary(t, 120)
	run := sampleRun(dark, 60_000)
	p := d.Equal()
	require.Contains(t, p.Text, "each of 7 kinds of unit")
	equal := probabilityOf(t, d.Diagnose(run, p), dim)
	p.Class[4] *= 50
	require.Greater(t, probabilityOf(t, d.Diagnose(run, p), dim), max(0.8, equal))
}

func probabilityOf(t *testing.T, found Diagnosis, class string) float64 {
	t.Helper()
	for _, s := range found.Suspects {
		if s.Class.Name == class {
			return s.Probability
		}
	}
	return 0
}

// A run that was broken off leaves open what it did not come to.
func TestABrokenRunIsJudgedByWhatItHas(t *testing.T) {
	d := sampleDictionary(t, 80)
	run := sampleRun(openBoth, 70_000)
	run.Readings, run.Checks, run.Verdict = run.Readings[:3], nil, record.None
	found := d.Diagnose(run, d.Equal())
	require.Equal(t, openBoth, found.Suspects[0].Class.Name)
	require.Positive(t, found.Unseen)
	run.Verdict = record.Fail
	require.NotEqual(t, found.Suspects[0].Probability, d.Diagnose(run, d.Equal()).Suspects[0].Probability, "in a finished run what is missing speaks")
}

func BenchmarkDiagnose(b *testing.B) {
	d := sampleDictionary(b, 100)
	run := sampleRun(openOne, 1)
	p := d.Equal()
	b.ReportAllocs()
	for b.Loop() {
		d.Diagnose(run, p)
	}
}

func BenchmarkDictionary(b *testing.B) {
	x := sampleBuilder(b, 100)
	for b.Loop() {
		_, err := x.Dictionary()
		require.NoError(b, err)
	}
}

func TestNothingDependsOnTheDay(t *testing.T) {
	a, err := sampleDictionary(t, 30).Encode()
	require.NoError(t, err)
	b, err := sampleDictionary(t, 30).Encode()
	require.NoError(t, err)
	require.Equal(t, Hash(a), Hash(b))
	require.Len(t, Hash(a), 64)
}
