package forecast

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Line is an ordinary least-squares line y = A + B x.
type Line struct {
	A, B          float64
	AA, AB, BB    float64 // covariance of A and B
	Sigma         float64 // residual standard deviation
	N             int
	meanX, meanY  float64
	sumXX, freeDF float64
}

// FitLine fits a line. At least three points at two different x are needed.
func FitLine(x, y []float64) (Line, error) {
	n := len(x)
	if n < 3 || n != len(y) {
		return Line{}, fmt.Errorf("%d points: a line with its error needs at least 3", n)
	}
	l := Line{N: n, freeDF: float64(n - 2)}
	for i := range x {
		l.meanX += x[i]
		l.meanY += y[i]
	}
	l.meanX /= float64(n)
	l.meanY /= float64(n)
	sxy := 0.0
	for i := range x {
		l.sumXX += (x[i] - l.meanX) * (x[i] - l.meanX)
		sxy += (x[i] - l.meanX) * (y[i] - l.meanY)
	}
	if l.sumXX == 0 {
		return Line{}, fmt.Errorf("all points at x = %v: no line can be fitted", l.meanX)
	}
	l.B = sxy / l.sumXX
	l.A = l.meanY - l.B*l.meanX
	ss := 0.0
	for i := range x {
		e := (y[i] - l.meanY) - l.B*(x[i]-l.meanX)
		ss += e * e
	}
	l.Sigma = math.Sqrt(ss / l.freeDF)
	v := l.Sigma * l.Sigma
	l.BB = v / l.sumXX
	l.AB = -l.meanX * l.BB
	l.AA = v/float64(n) + l.meanX*l.meanX*l.BB
	return l, nil
}

// Curve is a function of x with parameters b; it writes its gradient by b.
type Curve func(b []float64, x float64, grad []float64) float64

// FitCurve fits a curve by least squares from a start, by Gauss-Newton steps
// damped after Levenberg and Marquardt. It gives the parameters, their
// covariance and the residual standard deviation.
func FitCurve(f Curve, x, y, start []float64) (b []float64, cov *mat.SymDense, sigma float64, err error) {
	n, k := len(x), len(start)
	if n <= k || n != len(y) {
		return nil, nil, 0, fmt.Errorf("%d points: %d parameters need more", n, k)
	}
	b = append([]float64(nil), start...)
	grad, try := make([]float64, k), make([]float64, k)
	sum := func(b []float64) float64 {
		s := 0.0
		for i := range x {
			e := y[i] - f(b, x[i], grad)
			s += e * e
		}
		return s
	}
	ss, damp := sum(b), 1e-3
	a, g := mat.NewSymDense(k, nil), mat.NewVecDense(k, nil)
	for iter := 0; iter < 200; iter++ {
		normal(f, b, x, y, grad, a, g)
		damped := mat.NewSymDense(k, nil)
		damped.CopySym(a)
		for i := 0; i < k; i++ {
			damped.SetSym(i, i, a.At(i, i)*(1+damp))
		}
		var step mat.VecDense
		if err := step.SolveVec(damped, g); err != nil && math.IsInf(condition(err), 1) {
			return nil, nil, 0, fmt.Errorf("the curve's parameters cannot be told apart at %v", b)
		}
		small := true
		for i := range try {
			try[i] = b[i] + step.AtVec(i)
			small = small && math.Abs(step.AtVec(i)) <= 1e-13*math.Abs(b[i])
		}
		if t := sum(try); t <= ss && !math.IsNaN(t) {
			copy(b, try)
			ss, damp = t, damp/10
		} else {
			damp *= 10
		}
		if small || damp > 1e12 {
			break
		}
	}
	normal(f, b, x, y, grad, a, g)
	sigma = math.Sqrt(ss / float64(n-k))
	var ch mat.Cholesky
	if !ch.Factorize(a) {
		return nil, nil, 0, fmt.Errorf("the curve's parameters cannot be told apart at %v", b)
	}
	cov = mat.NewSymDense(k, nil)
	if err := ch.InverseTo(cov); err != nil && math.IsInf(condition(err), 1) {
		return nil, nil, 0, fmt.Errorf("invert the normal matrix: %w", err)
	}
	cov.ScaleSym(sigma*sigma, cov)
	return b, cov, sigma, nil
}

// condition gives the condition number gonum warns of; a large one only costs
// digits.
func condition(err error) float64 {
	if c, ok := err.(mat.Condition); ok {
		return float64(c)
	}
	return math.Inf(1)
}

func normal(f Curve, b, x, y, grad []float64, a *mat.SymDense, g *mat.VecDense) {
	a.Zero()
	g.Zero()
	for i := range x {
		e := y[i] - f(b, x[i], grad)
		for p := range grad {
			g.SetVec(p, g.AtVec(p)+grad[p]*e)
			for q := 0; q <= p; q++ {
				a.SetSym(p, q, a.At(p, q)+grad[p]*grad[q])
			}
		}
	}
}

// Exponential is b0 exp(-b1 x).
func Exponential(b []float64, x float64, grad []float64) float64 {
	e := math.Exp(-b[1] * x)
	grad[0], grad[1] = e, -b[0]*x*e
	return b[0] * e
}
