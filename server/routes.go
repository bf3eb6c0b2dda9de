package server

import (
	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
)

// routes lists every address. A POST stands beside the page it belongs to.
func (s *Server) routes(r *gin.Engine) {
	get := func(path string, h handler) {
		r.GET(path, s.handle(h))
		r.HEAD(path, s.handle(h))
	}
	post := func(path string, h handler) { r.POST(path, s.handle(h)) }

	get("/", s.homePage)
	get("/lessons", s.lessonsPage)
	get("/lessons/:lesson", s.lessonPage)
	post("/lessons/:lesson", s.answerQuestion)
	post("/altitude", s.keepAltitude)

	get("/practice", s.practicePage)
	get("/practice/next", s.nextQuestion)
	get("/practice/:question", s.questionPage)
	post("/practice/:question", s.practise)
	get("/check", s.checksPage)
	post("/check", s.beginCheck)
	get("/check/:check", s.checkPage)
	post("/check/:check/hand-in", s.handIn)
	get("/check/:check/:n", s.placePage)
	post("/check/:check/:n", s.answerPlace)
	get("/review", s.reviewPage)
	get("/review/next", s.nextReview)
	post("/review/day", s.keepDay)
	get("/ready", s.readyPage)

	get("/scenarios", s.scenariosPage)
	get("/scenarios/:scenario", s.scenarioPage)
	post("/scenarios/:scenario", s.tryScenario)

	get("/plan", s.planPage)
	post("/plan", s.checkPlan)
	post("/api/grade", s.apiGrade)
	get("/api/plan.schema.json", s.apiDocument(schemaType, scenarios.PlanSchema(s.course.Grader.Table())))
	get("/api/batch.schema.json", s.apiDocument(schemaType, scenarios.BatchSchema(s.course.Grader.Table())))
	get("/api/openapi.json", s.apiDocument("application/json", openAPI))

	get("/bench", s.benchesPage)
	get("/bench/ear", s.earPage)
	post("/bench/ear", s.answerEar)
	get("/bench/ear/:round", s.earSound)
	get("/bench/:demo", s.benchPage)

	get("/my-work", s.workPage)
	get("/my-work/answers.csv", s.answersFile)
	get("/my-work/statements.jsonl", s.statementsFile)
	get("/my-work/plans/:id", s.keptPlanPage)
	post("/my-work/plans/:id/delete", s.deletePlan)
	get("/my-work/attempts/:id", s.keptAttemptPage)
	post("/my-work/attempts/:id/delete", s.deleteAttempt)
	get("/my-work/forget", s.forgetPage)
	post("/my-work/forget", s.forget)

	get("/times", s.timesPage)
	get("/times/:food", s.foodPage)
	get("/rules", s.rulesPage)
	get("/rules/:rule", s.rulePage)
	get("/sources", s.sourcesPage)
	get("/glossary", s.glossaryPage)
	get("/find", s.findPage)
	get("/wall", s.wallPage)
	get("/booklet", s.bookletPage)

	get("/set-up/:code", s.setUpPage)
	post("/set-up/:code", s.setUp)
	get("/login", s.logInPage)
	post("/login", s.enter)
	post("/logout", s.logOut)
	get("/join", s.joinPage)
	post("/join", s.join)
	get("/new-password", s.newPasswordPage)
	post("/new-password", s.newPassword)
	get("/account", s.accountPage)
	post("/account", s.changePassword)

	get("/class", s.classesPage)
	get("/class/new", s.newClassPage)
	post("/class/new", s.newClass)
	get("/class/:class", s.classPage)
	get("/class/:class/change", s.changeClassPage)
	post("/class/:class/change", s.changeClass)
	get("/class/:class/code", s.codePage)
	post("/class/:class/code", s.changeCode)
	get("/class/:class/assign", s.assignPage)
	post("/class/:class/assign", s.assign)
	post("/class/:class/assignments/:id/take-back", s.takeBack)
	post("/class/:class/calendar", s.changeFeed)
	get("/class/:class/students/:student", s.studentPage)
	get("/class/:class/students/:student/attempts/:id", s.studentAttempt)
	post("/class/:class/students/:student/password", s.resetPassword)
	post("/class/:class/students/:student/remove", s.removeStudent)
	get("/calendar/:secret", s.calendarFile)

	get("/batches", s.beginPage)
	post("/batches", s.beginBatch)
	get("/batches/:batch", s.batchPage)
	post("/batches/:batch", s.act)
	get("/batches/:batch/plan", s.batchPlanPage)
	post("/batches/:batch/plan", s.planBatch)
	get("/batches/:batch/record", s.recordPage)
	post("/batches/:batch/record", s.recordBatch)
	get("/batches/:batch/versions/:n", s.versionPage)
	post("/batches/:batch/photos", s.addPhoto)
	get("/batches/:batch/photos/:photo", s.photoFile)
	post("/batches/:batch/photos/:photo/delete", s.deletePhoto)
	get("/batches/:batch/seals.ics", s.reminder)

	get("/healthz", s.healthz)
	get("/assets/*file", s.assetFile)
	get("/offline.js", s.offlineScript)

	r.NoRoute(s.handle(func(*gin.Context) error { return errNoPage }))
	r.NoMethod(s.handle(func(*gin.Context) error { return errNoMethod }))
}
