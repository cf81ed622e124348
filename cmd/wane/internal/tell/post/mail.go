package post

import (
	"context"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/wneessen/go-mail"

	"wane/cmd/wane/internal/tell"
	"wane/ingest/collect/secret"
	"wane/ingest/site"
)

// sendTime is how long one try may take.
const sendTime = 60 * time.Second

// mostAttached is how large a page may be to go with a mail, bytes.
const mostAttached = 5 << 20

type mailer struct {
	folder site.Folder
	vault  *secret.Vault
	set    site.Mail
}

func (*mailer) Name() string { return "mail" }

func (m *mailer) Send(ctx context.Context, x tell.Message) error {
	msg, err := m.compose(x)
	if err != nil {
		return err
	}
	client, err := m.client()
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, sendTime)
	defer cancel()
	if err := client.DialAndSendWithContext(ctx, msg); err != nil {
		return fmt.Errorf("send mail by %s: %s", m.set.Host, m.vault.Hide(err.Error()))
	}
	return nil
}

// compose makes the mail. Its Message-ID is that of the message, so that a mail
// program knows one that comes twice.
func (m *mailer) compose(x tell.Message) (*mail.Msg, error) {
	msg := mail.NewMsg()
	if err := msg.From(m.set.From); err != nil {
		return nil, fmt.Errorf("mail from %s: %w", m.set.From, err)
	}
	if err := msg.To(m.set.To...); err != nil {
		return nil, fmt.Errorf("mail to %s: %w", strings.Join(m.set.To, ", "), err)
	}
	msg.SetMessageIDWithValue(x.ID + "@wane")
	msg.SetDateWithValue(x.At)
	msg.Subject(x.Subject)
	msg.SetGenHeader("X-Wane-Message", x.ID)
	msg.SetGenHeader("Auto-Submitted", "auto-generated")
	if x.Kind == tell.AlarmMessage {
		msg.SetImportance(mail.ImportanceHigh)
	}
	msg.SetBodyString(mail.TypeTextPlain, x.Text)
	page := m.folder.Path("reports", "index.html")
	if info, err := os.Stat(page); m.set.Attach && x.Kind != tell.AlarmMessage && err == nil &&
		info.Size() <= mostAttached {
		msg.AttachFile(page, mail.WithFileName("report.html"))
	}
	return msg, nil
}

func (m *mailer) client() (*mail.Client, error) {
	certs, err := trust(m.folder, m.set.Host, m.set.CA, m.set.Certificate)
	if err != nil {
		return nil, err
	}
	options := []mail.Option{mail.WithPort(m.set.Port), mail.WithTimeout(sendTime), mail.WithTLSConfig(certs)}
	switch m.set.Security {
	case "tls":
		options = append(options, mail.WithSSL())
	case "none":
		options = append(options, mail.WithTLSPolicy(mail.NoTLS))
	default:
		options = append(options, mail.WithTLSPolicy(mail.TLSMandatory))
	}
	if m.set.User != "" {
		password, err := m.vault.Read(m.set.Password)
		if err != nil {
			return nil, err
		}
		options = append(options, mail.WithSMTPAuth(mail.SMTPAuthAutoDiscover), mail.WithUsername(m.set.User),
			mail.WithPassword(password))
	}
	c, err := mail.NewClient(m.set.Host, options...)
	if err != nil {
		return nil, fmt.Errorf("mail by %s: %w", m.set.Host, err)
	}
	return c, nil
}
