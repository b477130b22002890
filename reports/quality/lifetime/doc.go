// Package lifetime says how long things last when some of them still run.
//
// A Life is how long one unit ran: operations of a relay, hours of a gadget. It
// either failed then or is censored: still running when last seen. A Weibull
// law is fitted to lives by maximum likelihood; its shape tells early failures
// (below 1) from wear (above 1), and a quantile (B10: the life that 10 % do not
// reach) when to replace. Where failures come by chance alone (shape 1) a mean
// time between failures has exact limits. Success runs and demonstrations plan
// tests in which few or none may fail.
package lifetime
