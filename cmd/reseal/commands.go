package main

import "github.com/urfave/cli/v2"

// commands lists the command families in the order of a season's work.
func commands(w world) []*cli.Command {
	return []*cli.Command{
		initCommand(w),
		demoCommand(w),
		importCommand(w),
		bridgeCommand(w),
		jointCommand(w),
		checkCommand(w),
		dueCommand(w),
		inspectCommand(w),
		findingCommand(w),
		gapCommand(w),
		fitCommand(w),
		backtestCommand(w),
		forecastCommand(w),
		worklistCommand(w),
		claimCommand(w),
		decisionCommand(w),
		sheetCommand(w),
		jobCommand(w),
		recordCommand(w),
		costCommand(w),
		planCommand(w),
		budgetCommand(w),
		reportCommand(w),
		closeCommand(w),
		settingsCommand(w),
		exportCommand(w),
		serveCommand(w),
	}
}
