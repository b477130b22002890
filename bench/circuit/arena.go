package circuit

// arena hands out zeroed pieces of large blocks. A Sim makes hundreds of small
// arrays that live as long as it does; one by one they would cost more than the
// arithmetic on them.
type arena[T any] struct {
	block []T
	size  int // elements per block
}

func (a *arena[T]) take(n int) []T {
	if n > len(a.block) {
		a.block = make([]T, max(a.size, n))
	}
	part := a.block[:n:n]
	a.block = a.block[n:]
	return part
}
