;;; test.el - drives Emacs with Eglot through what a user does -*- lexical-binding: t -*-
;;
;; emacs_test.go runs it, with what SETUP.md says for the init file loaded before:
;; finding, rewrite, definition, hover, rename, completion, formatting, end.
;; It prints what went wrong and ends with a status other than 0, or "test.el: passed".

(require 'eglot)
(require 'flymake)
(setq eglot-sync-connect 20 eglot-confirm-server-initiated-edits nil)

(defun await (what condition)
  "Wait until CONDITION gives something, and give that; WHAT says in words for what."
  (let ((end (+ (float-time) 20)) found)
    (while (not (or (setq found (funcall condition)) (> (float-time) end)))
      (accept-process-output nil 0.05))
    (or found (error "Gave up waiting for %s" what))))

(defun equal-or-fail (what got want)
  (unless (equal got want) (error "%s: got %S, want %S" what got want)))

;; A driver of one signal (invented).
(defconst before "\t.syntax unified
\t.thumb
\t.global signal_red
\t.type signal_red, %function
@ Shows red: r0 is the lamp.
signal_red:
\tpush\t{r4, lr}
\tmovs\tr1, #300
\tbl\tlamp_wait
\tpop\t{r4, pc}
\t.size signal_red, . - signal_red
lamp_wait:
\tbx\tlr
")

;; Without a window no time is idle, which is when Eglot tells of changes and Flymake looks.
(defun findings ()
  (eglot--signal-textDocument/didChange)
  (flymake-start)
  (accept-process-output nil 0.1)
  (mapcar #'flymake-diagnostic-text (flymake-diagnostics)))

(defun buffer () (buffer-substring-no-properties (point-min) (point-max)))

(defun drive ()
  (write-region before nil (expand-file-name "signal.s"))
  (find-file (expand-file-name "signal.s"))
  (asm-mode)
  (call-interactively #'eglot)
  (flymake-mode 1)
  (let ((text (await "the finding" (lambda () (car (findings))))))
    (unless (string-match-p "0–255.*300" text) (error "The finding says %S" text)))

  ;; The first rewrite that is offered takes the finding away.
  (goto-char (point-min))
  (search-forward "#300")
  (backward-char 1)
  (let ((actions (append (eglot-code-actions (line-beginning-position) (line-end-position) nil nil) nil)))
    (unless actions (error "No rewrite is offered"))
    (eglot--apply-workspace-edit (plist-get (car actions) :edit)))
  (await "the rewrite" (lambda () (not (equal (buffer) before))))
  (await "no finding" (lambda () (null (findings))))
  (erase-buffer)
  (insert before)
  (await "the finding again" (lambda () (findings)))

  (goto-char (point-min))
  (search-forward "bl\tlamp")
  (let ((found (xref-backend-definitions 'eglot (xref-backend-identifier-at-point 'eglot))))
    (equal-or-fail "definition" (xref-location-line (xref-item-location (car found))) 12))
  (let ((hover (format "%S" (jsonrpc-request (eglot--current-server-or-lose) :textDocument/hover (eglot--TextDocumentPositionParams)))))
    (unless (string-match-p "lamp_wait" hover) (error "Hover says %s" hover)))

  (eglot-rename "lamp_pause")
  (equal-or-fail "renamed" (buffer) (replace-regexp-in-string "lamp_wait" "lamp_pause" before))

  (goto-char (point-min))
  (search-forward "#300")
  (end-of-line)
  (insert "\n\tb\tlamp_")
  (let ((names (all-completions "" (nth 2 (eglot-completion-at-point)))))
    (unless (member "lamp_pause" (mapcar #'substring-no-properties names)) (error "Completion offers %S" names)))
  (delete-region (line-beginning-position) (line-end-position))
  (insert "   nop")
  (eglot-format-buffer)
  (goto-char (point-min))
  (unless (search-forward "\n\tnop\n" nil t) (error "Formatted: %s" (buffer)))

  (set-buffer-modified-p nil)
  (eglot-shutdown (eglot--current-server-or-lose))
  (princ "test.el: passed\n"))

(condition-case failed
    (drive)
  (error (princ (format "test.el: %s\n" (error-message-string failed))) (kill-emacs 1)))
(kill-emacs 0)
