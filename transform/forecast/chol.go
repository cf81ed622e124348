package forecast

import "math"

// The eliminations work on many small dense matrices, row-major in flat
// slices, with no allocation; gonum's types would allocate for each.

// cholesky overwrites the lower triangle of the n x n matrix a with its factor
// L (a = L L'). Only the lower triangle is read. It reports false where a is
// not positive definite.
func cholesky(a []float64, n int) bool {
	for i := 0; i < n; i++ {
		ri := a[i*n : i*n+i+1]
		for j := 0; j <= i; j++ {
			rj := a[j*n : j*n+j+1]
			s := ri[j]
			for k := 0; k < j; k++ {
				s -= ri[k] * rj[k]
			}
			if i == j {
				if !(s > 0) {
					return false
				}
				ri[i] = math.Sqrt(s)
			} else {
				ri[j] = s / rj[j]
			}
		}
	}
	return true
}

// forward overwrites the n x m matrix b with L^-1 b.
func forward(l []float64, n int, b []float64, m int) {
	for i := 0; i < n; i++ {
		bi := b[i*m : i*m+m]
		for k := 0; k < i; k++ {
			f := l[i*n+k]
			if f == 0 {
				continue
			}
			bk := b[k*m : k*m+m]
			for c := range bi {
				bi[c] -= f * bk[c]
			}
		}
		f := 1 / l[i*n+i]
		for c := range bi {
			bi[c] *= f
		}
	}
}

// backward overwrites the n x m matrix b with L'^-1 b.
func backward(l []float64, n int, b []float64, m int) {
	for i := n - 1; i >= 0; i-- {
		bi := b[i*m : i*m+m]
		for k := i + 1; k < n; k++ {
			f := l[k*n+i]
			if f == 0 {
				continue
			}
			bk := b[k*m : k*m+m]
			for c := range bi {
				bi[c] -= f * bk[c]
			}
		}
		f := 1 / l[i*n+i]
		for c := range bi {
			bi[c] *= f
		}
	}
}

// minusGram subtracts v'v (v is n x m) from the lower triangle of the m x m
// matrix a.
func minusGram(a []float64, v []float64, n, m int) { addGram(a, v, n, m, -1) }

// plusGram adds it.
func plusGram(a []float64, v []float64, n, m int) { addGram(a, v, n, m, 1) }

func addGram(a []float64, v []float64, n, m int, sign float64) {
	for k := 0; k < n; k++ {
		vk := v[k*m : k*m+m]
		for i := 0; i < m; i++ {
			f := sign * vk[i]
			if f == 0 {
				continue
			}
			ai := a[i*m : i*m+i+1]
			for j, x := range vk[:i+1] {
				ai[j] += f * x
			}
		}
	}
}

// invert writes (L L')^-1 to out, both triangles.
func invert(l []float64, n int, out []float64) {
	for i := range out[:n*n] {
		out[i] = 0
	}
	for i := 0; i < n; i++ {
		out[i*n+i] = 1
	}
	forward(l, n, out, n)
	backward(l, n, out, n)
	for i := 0; i < n; i++ { // the same bits on both sides
		for j := 0; j < i; j++ {
			out[j*n+i] = out[i*n+j]
		}
	}
}

// quad gives x' a x for the symmetric n x n matrix a.
func quad(a, x []float64, n int) float64 {
	s := 0.0
	for i := 0; i < n; i++ {
		if x[i] == 0 {
			continue
		}
		r := 0.0
		for j, y := range a[i*n : i*n+n] {
			r += y * x[j]
		}
		s += x[i] * r
	}
	return s
}
