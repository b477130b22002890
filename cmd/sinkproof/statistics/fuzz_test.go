package statistics

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// FuzzStudies puts any file to every study: each answers with an object whose
// numbers are numbers, or refuses, and never panics.
func FuzzStudies(f *testing.F) {
	for _, seed := range []string{
		"p,a,v\n1,x,5\n1,x,6\n2,x,7\n2,x,8\n1,y,5\n1,y,6\n2,y,7\n2,y,8.5\n",
		"p,a,v\n1,x,1e75\n1,x,-1e75\n2,y,1e-300\n2,y,0\n", "p,a,v\n1,x,5\n1,y,5\n2,x,5\n2,y,5\n",
		"p,a,v\n1,x,1e300\n", "p;a;v\n1;x;5,5\n", "p,a,v\n1,x,0\n1,y,1\n1,x,1\n1,y,1\n2,x,0\n2,y,0\n2,x,1\n2,y,1\n",
		"p,a,v\n1,x,4.9e-324\n1,y,1\n2,x,1\n2,y,1e16\n",
	} {
		f.Add(seed)
	}
	commands := readers()
	commands["p"] = strings.Fields("study chart - --value v --kind p --size 7")
	commands["u"] = strings.Fields("study chart - --value v --kind u --size 3 --rules nelson")
	commands["c"] = strings.Fields("study chart - --value v --kind c --subgroup a --by p")
	commands["rules"] = strings.Fields("study chart - --value v --kind individuals --rules nelson,western-electric --judge")
	commands["margin"] = strings.Fields("study compare - --value v --between a --by p --margin 1")
	commands["range"] = strings.Fields("study gauge - --value v --part p --appraiser a --method range --tolerance 2 --accept 10")
	commands["one side"] = strings.Fields("study capability - --value v --upper 3 --subgroup p --target 1 --need-cpk 1 --by a")
	commands["judged bias"] = strings.Fields("study bias - --value v --reference 5 --tolerance 2 --accept 5 --judge --by a")
	commands["judged line"] = strings.Fields("study linearity - --value v --reference p --tolerance 2 --accept 5 --judge")
	commands["drift"] = strings.Fields("study stability - --value v --time p --tolerance 2 --accept 5 --judge")
	commands["agreement"] = strings.Fields("study agreement - --value v --part p --appraiser a")
	commands["truth"] = strings.Fields("study agreement - --value a --part p --appraiser v --reference p --accept 0.5")
	commands["results"] = strings.Fields("lot sequential - --value v --producer-quality 0.01 --producer-risk 0.05 --consumer-quality 0.2 --consumer-risk 0.1")
	commands["known"] = strings.Fields("lot variables - --value v --sample-size 4 --k 1 --sigma 0.5 --lower 1 --upper 9")
	f.Fuzz(func(t *testing.T, text string) {
		for _, name := range sortedKeys(commands) {
			s := drive(t, text, append(commands[name], "--json")...)
			var trouble *Trouble
			if errors.As(s.err, &trouble) {
				require.Empty(t, s.out)
				require.NotEmpty(t, s.err.Error())
				continue
			}
			if !errors.Is(s.err, ErrNegative) && !errors.Is(s.err, ErrUndecided) {
				require.NoError(t, s.err, name)
			}
			require.True(t, json.Valid([]byte(s.out)), s.out)
			require.NotContains(t, s.out, "null")
		}
	})
}
