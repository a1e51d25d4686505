package page

// mailbox holds the latest value that nobody has taken yet. One goroutine puts.
type mailbox[T any] chan T

func newMailbox[T any]() mailbox[T] { return make(mailbox[T], 1) }

// put puts a value in place of the one that waits. It never waits itself.
func (b mailbox[T]) put(v T) {
	for {
		select {
		case b <- v:
			return
		default:
		}
		select {
		case <-b:
		default:
		}
	}
}
