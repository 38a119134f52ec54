// The main job through the client that openapi-generator makes of the document in Go: may she come,
// with which needle? And a word that this client has never heard of.
package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"time"

	"judge/etui"
)

func must(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func main() {
	settings := etui.NewConfiguration()
	settings.Servers = etui.ServerConfigurations{{URL: os.Getenv("ETUI")}}
	client := etui.NewAPIClient(settings)
	as := context.WithValue(context.Background(), etui.ContextAccessToken, os.Getenv("TOKEN"))

	var request etui.AppointmentCheckRequest
	day := time.Now().UTC().AddDate(0, 0, 21).Format("2006-01-02")
	must(json.Unmarshal([]byte(fmt.Sprintf(`{"booking_ref": "booking-go", "treatment": "brows",
		"effect": "hair_strokes", "starts_at": "%sT10:00:00Z", "born_on": "1984-05-02",
		"answers": {"pregnant": false, "warfarin": false},
		"candidates": ["0.20 1RL", "0.30 3RL", "0.30 9M1"]}`, day)), &request))
	made, _, err := client.ChecksAPI.CreateAppointmentCheck(as).
		IdempotencyKey(`"go-1"`).AppointmentCheckRequest(request).Execute()
	must(err)
	read, _, err := client.ChecksAPI.GetAppointmentCheck(as, made.Id).Execute()
	must(err)
	if read.Id != made.Id || len(read.Needles.Ranked) == 0 {
		fmt.Fprintln(os.Stderr, "the check reads otherwise than it was made")
		os.Exit(1)
	}
	body, err := json.Marshal(made)
	must(err)
	newer := strings.Replace(string(body), `"verdict":"`, `"one_member_more":{"a":1},"verdict":"never_heard_of_`, 1)
	var other etui.AppointmentCheck
	must(json.Unmarshal([]byte(newer), &other))
	fmt.Println("first needle:", read.Needles.Ranked[0].Canonical, "- a newer service is read too")
}
