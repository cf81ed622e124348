package forecast

import (
	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// The eliminations work on many small dense matrices, row-major in flat slices that are used again: gonum is told of
// them by views, which allocate nothing.

func symmetric(a []float64, n int) blas64.Symmetric {
	return blas64.Symmetric{Uplo: blas.Lower, N: n, Data: a, Stride: max(1, n)}
}

func factor(l []float64, n int) blas64.Triangular {
	return blas64.Triangular{Uplo: blas.Lower, Diag: blas.NonUnit, N: n, Data: l, Stride: max(1, n)}
}

func general(b []float64, n, m int) blas64.General {
	return blas64.General{Rows: n, Cols: m, Data: b, Stride: max(1, m)}
}

// cholesky overwrites the lower triangle of the n x n matrix a with its factor
// L (a = L L'). Only the lower triangle is read. It reports false where a is
// not positive definite.
func cholesky(a []float64, n int) bool {
	_, ok := lapack64.Potrf(symmetric(a, n))
	return ok
}

// forward overwrites the n x m matrix b with L^-1 b.
func forward(l []float64, n int, b []float64, m int) {
	blas64.Trsm(blas.Left, blas.NoTrans, 1, factor(l, n), general(b, n, m))
}

// backward overwrites the n x m matrix b with L'^-1 b.
func backward(l []float64, n int, b []float64, m int) {
	blas64.Trsm(blas.Left, blas.Trans, 1, factor(l, n), general(b, n, m))
}

// minusGram subtracts v'v (v is n x m) from the lower triangle of the m x m
// matrix a; plusGram adds it.
func minusGram(a, v []float64, n, m int) {
	blas64.Syrk(blas.Trans, -1, general(v, n, m), 1, symmetric(a, m))
}

func plusGram(a, v []float64, n, m int) {
	blas64.Syrk(blas.Trans, 1, general(v, n, m), 1, symmetric(a, m))
}

// invert writes (L L')^-1 to out, both triangles.
func invert(l []float64, n int, out []float64) {
	copy(out[:n*n], l[:n*n])
	lapack64.Potri(factor(out, n))
	for i := range n { // the same bits on both sides
		for j := range i {
			out[j*n+i] = out[i*n+j]
		}
	}
}

// quad gives x' a x for the symmetric n x n matrix a.
func quad(a, x []float64, n int) float64 {
	s := 0.0
	for i := range n {
		if x[i] != 0 {
			s += x[i] * dot(a[i*n:i*n+n], x[:n])
		}
	}
	return s
}
