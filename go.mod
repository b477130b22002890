module sinkproof

go 1.26
