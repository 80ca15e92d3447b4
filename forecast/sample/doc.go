// Package sample makes an invented network of bridges and joints with ten
// years of records, for demonstrations and tests. Nothing in it exists: its
// state has a code that no state has, and its bridges lie in the open Pacific.
//
// Seals wear by the chain of the agency's own life table, each joint at its
// own pace, and gaps open by the theory of movement; on top comes the mess of
// real records. The same seed gives the same network.
package sample
