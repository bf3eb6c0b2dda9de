// Package rules loads, checks and runs rules.
package rules
