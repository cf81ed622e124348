// Package report writes the pages of a site's reports folder: plain HTML that
// holds all there is to read, and one small script beside it that finds, sorts,
// filters, overlays and saves what is there. Nothing is fetched from elsewhere.
//
//  1. Input is what the night knows: the answers and lives of package derive,
//     the site's configuration, and what needs a person.
//  2. Each page is built as data (overview.go, fixture.go, makes.go) from the
//     building blocks: Table, Figure, Fact, and the words of words.go, which
//     never write a number without its interval. A long Table that the page is not
//     opened for has Fold: it stands behind its caption, and prints as that line.
//  3. The data go through the page's template in templates/, inside the frame
//     of layout.html.
//  4. A page a fixture and a page a room follow (fixture.go, room.go, map.go), and
//     files of data for the script (data.go). Of a site of more than mostFull
//     fixtures they are lean: what `wane explain` tells is left to it.
//  5. Write puts every page in place whole: written beside, flushed, renamed.
//
// How to add a page:
//
//   - Give Input a field with what the page is made of; nil means that there is
//     nothing to show.
//   - Write a file named after the page with a builder, func(*book) (any, bool),
//     that gives the data for the template, or false where there is none.
//   - Write templates/NAME.html, which defines "content"; it may use "table",
//     "figure", "facts" and "cautions" of templates/parts.html.
//   - Add a line to the list pages in page.go: file, words in the menu, builder.
//     Menu and frame follow from it.
//
// Drawings come from package chart; a Figure sets one with its caption, its key
// and its numbers as a table to unfold.
//
// Promises: the same input gives the same bytes; no clock is read; a page whose
// bytes did not change is left alone; names from the register can neither leave
// the folder nor become markup.
package report
