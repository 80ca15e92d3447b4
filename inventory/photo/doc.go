// Package photo keeps the photos of inspections and findings as files in a
// folder beside the inventory, each named by its content: one that is sent
// twice is kept once, and a name on record never shows another picture.
//
// A Folder is safe for use by many goroutines.
package photo
