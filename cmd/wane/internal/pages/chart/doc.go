// Package chart draws the charts of the report pages as SVG for setting into
// HTML.
//
//  1. A chart is described: axes and layers (XY), or rows of ranges (Ranges).
//  2. gonum/plot lays it out and draws it, twice: wide for a desk or paper,
//     narrow for a telephone, so that the writing keeps its size. The style
//     sheet shows one of the two (classes "wide" and "narrow").
//  3. The SVG is cleaned for setting in: no prologue, no name-space addresses,
//     no fixed size, writing in the reader's own sans face (the layout is made
//     with Liberation Sans, whose widths are those of the usual ones), a title
//     and a description with ids of their own.
//
// Every series differs from its neighbours by dash or mark as well as by
// colour, so that a grey print and any eye can tell them apart. The colours
// are those of the palette of Okabe and Ito (2008), darkened where they would be
// faint on white.
//
// The key is given apart from the drawing (Key), to be set as HTML below it,
// where it wraps.
//
// Promises: the same description gives the same bytes; a value that is not
// finite breaks a line and is never written; text from a register is escaped.
package chart
