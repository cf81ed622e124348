// Package inbrowser opens pages in a real Chromium, for tests tagged browser.
//
//  1. Start begins a browser that talks to nobody; a Shown is a folder of pages in it.
//  2. Open, Do, List and Until use a page as a person or its script does.
//  3. Walk opens every page of a folder, wide and narrow, light and dark, and fails on
//     what would keep a person out: see walk.go. A page added to a folder is walked by
//     itself.
//  4. Printed counts the sheets that a page takes.
package inbrowser
