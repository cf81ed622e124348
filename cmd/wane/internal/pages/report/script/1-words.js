"use strict";
// What all parts of the script use. The pages hold everything without it: it finds,
// sorts, filters, compares and saves what is there, and fetches nothing but files
// that lie beside the pages.
const root = document.querySelector("script[data-root]").dataset.root;

function make(tag, attrs, ...inside) {
	const e = document.createElement(tag);
	for (const [k, v] of Object.entries(attrs || {})) e.setAttribute(k, v);
	e.append(...inside);
	return e;
}

// svg makes an element of a drawing.
function svg(tag, attrs, ...inside) {
	const e = document.createElementNS("http://www.w3.org/2000/svg", tag);
	for (const [k, v] of Object.entries(attrs || {})) e.setAttribute(k, v);
	e.append(...inside);
	return e;
}

// words are a cell's own words, without what stands small beside them.
function words(cell) {
	const c = cell.cloneNode(true);
	for (const x of c.querySelectorAll("small,.note,.sign,.unseen,svg")) x.remove();
	return c.textContent.replace(/\s+/g, " ").trim();
}

const months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

// day reads "2 Mar 2027" as 2027-03-02.
function day(s) {
	const m = /(\d{1,2})\s([A-Z][a-z]{2})\s(\d{4})/.exec(s);
	const k = m ? months.indexOf(m[2]) : -1;
	return k < 0 ? "" : m[3] + "-" + String(k + 1).padStart(2, "0") + "-" + m[1].padStart(2, "0");
}

// number reads "−1,240 h" as -1240; NaN where there is none.
function number(s) {
	const m = /[−-]?\d[\d,]*(\.\d+)?/.exec(s);
	return m ? Number(m[0].replace(/,/g, "").replace("−", "-")) : NaN;
}

// save hands a text over as a file.
function save(name, type, text) {
	const a = make("a", {download: name, href: URL.createObjectURL(new Blob([text], {type}))});
	document.body.append(a);
	a.click();
	a.remove();
	setTimeout(() => URL.revokeObjectURL(a.href), 10000);
}

// fileWord makes a file's name of words.
function fileWord(s) {
	return s.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "").slice(0, 50) || "wane";
}

// load runs a file of data beside the pages, once. Such files are scripts because a
// page in a folder may not read other files.
const loaded = {};
window.wane = {};
function load(file) {
	loaded[file] ||= new Promise((done, fail) => {
		window.wane[file] = done;
		const s = make("script", {src: root + "data/" + file + ".js"});
		s.onerror = () => fail(new Error("data/" + file + ".js is not there"));
		document.head.append(s);
	});
	return loaded[file];
}

// link is the address of a fixture's page from this page.
function link(f) { return root + (f[7] || "fixtures/" + f[0] + ".html"); }
