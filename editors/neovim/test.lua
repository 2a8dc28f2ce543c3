-- test.lua - drives Neovim through what a user does: open a file, see the
-- finding, apply the rewrite. neovim_test.go runs it; by hand:
--
--   NARROWGAUGE_SERVER=/path/narrowgauge nvim --clean --headless -c 'luafile test.lua'
--
-- Prints what went wrong and ends with a status other than 0, or ends with 0.

local source = debug.getinfo(1, 'S').source:sub(2)
local here = vim.fn.fnamemodify(source, ':p:h')

local function fail(text)
  io.stderr:write('test.lua: ' .. text .. '\n')
  vim.cmd('cquit 1')
end

local function equal(got, want, what)
  if not vim.deep_equal(got, want) then
    error(what .. ': got ' .. vim.inspect(got) .. ', want ' .. vim.inspect(want), 0)
  end
end

local function await(condition, what)
  if not vim.wait(20000, condition, 20) then
    error('gave up waiting for ' .. what, 0)
  end
end

-- T16 moves constants up to 255; this one takes a load from the literal pool.
local before = {
  '@ driver of one signal (invented)',
  '        .syntax unified',
  '        .thumb',
  '        .thumb_func',
  'lamp_time:',
  '        mov     r0, #0x1235     @ ticks: "ü" and "😀" stay',
  '        bx      lr',
}

-- Two files: a call goes to the definition in the other one, and both get another name.
local function several()
  local folder = vim.fn.tempname()
  vim.fn.mkdir(folder .. '/.git', 'p')
  vim.fn.writefile({ '{"arch": "armv4t"}' }, folder .. '/narrowgauge.json')
  vim.fn.writefile({ '        .global main', 'main:', '        bl      set_lamp', '        b       main' }, folder .. '/main.s')
  vim.fn.writefile({ '        .global set_lamp', 'set_lamp:', '        bx      lr' }, folder .. '/lamp.s')
  vim.cmd('edit ' .. vim.fn.fnameescape(folder .. '/main.s'))
  await(function()
    return #vim.lsp.buf_get_clients(0) > 0
  end, 'the server to have the second workspace')
  vim.api.nvim_win_set_cursor(0, { 3, 18 })
  local found
  await(function() -- the client may still be starting
    local answers = vim.lsp.buf_request_sync(0, 'textDocument/definition', vim.lsp.util.make_position_params(0, 'utf-16'), 20000)
    for _, answer in pairs(answers or {}) do
      found = answer.result and answer.result[1]
    end
    return found ~= nil
  end, 'the definition in the other file')
  equal(vim.fn.fnamemodify(vim.uri_to_fname(found.uri), ':t'), 'lamp.s', 'the file with the definition')
  equal(found.range.start.line, 1, 'its line')

  vim.lsp.buf.rename('switch_lamp')
  await(function()
    return vim.api.nvim_buf_get_lines(0, 2, 3, true)[1]:find('switch_lamp', 1, true) ~= nil
  end, 'the new name')
  local other = vim.fn.bufnr(folder .. '/lamp.s')
  assert(other > 0, 'the other file is a buffer')
  equal(vim.api.nvim_buf_get_lines(other, 0, -1, true), { '        .global switch_lamp', 'switch_lamp:', '        bx      lr' }, 'the other file after the rename')
  vim.cmd('wall')
end

local function test()
  local server = os.getenv('NARROWGAUGE_SERVER')
  assert(server, 'NARROWGAUGE_SERVER is not set')
  vim.g.narrowgauge = { cmd = { server, 'serve' } }
  dofile(here .. '/narrowgauge.lua')

  local folder = vim.fn.tempname()
  vim.fn.mkdir(folder, 'p')
  vim.fn.writefile({ '{"arch": "armv4t", "startMode": "arm", "syntax": "unified"}' }, folder .. '/narrowgauge.json')
  vim.fn.writefile(before, folder .. '/lamp.s')
  vim.cmd('edit ' .. vim.fn.fnameescape(folder .. '/lamp.s'))
  equal(vim.bo.filetype, 'asm', 'filetype')

  await(function()
    return #vim.diagnostic.get(0) > 0
  end, 'a diagnostic')
  local found = vim.diagnostic.get(0)
  equal(#found, 1, 'number of diagnostics')
  equal(found[1].lnum, 5, 'line of the diagnostic')
  equal(found[1].severity, vim.diagnostic.severity.ERROR, 'its severity')
  equal(found[1].source, 'narrowgauge', 'its source')

  -- The menu: take the preferred action without asking.
  vim.ui.select = function(items, _, choose)
    for i, item in ipairs(items) do
      -- Neovim 0.7 lists {client, action}; later ones {action = ...}.
      local action = item.action or item[2]
      if action.isPreferred then
        return choose(item, i)
      end
    end
    error('no action is preferred: ' .. vim.inspect(items))
  end
  vim.api.nvim_win_set_cursor(0, { 6, 8 })
  vim.cmd([[normal \a]])

  await(function()
    return not vim.deep_equal(vim.api.nvim_buf_get_lines(0, 0, -1, true), before)
  end, 'the edit')
  local after = vim.deepcopy(before)
  after[6] = '        ldr     r0, =0x1235     @ ticks: "ü" and "😀" stay'
  equal(vim.api.nvim_buf_get_lines(0, 0, -1, true), after, 'text after the rewrite')
  await(function()
    return #vim.diagnostic.get(0) == 0
  end, 'the diagnostic to go')

  -- The edit is one step of undo, and the finding comes back.
  vim.cmd('undo')
  equal(vim.api.nvim_buf_get_lines(0, 0, -1, true), before, 'text after undo')
  await(function()
    return #vim.diagnostic.get(0) == 1
  end, 'the diagnostic to come back')

  -- Formatting lays out what is out of line, and nothing else.
  local ragged = vim.deepcopy(before)
  ragged[5] = '  lamp_time:'
  ragged[7] = ' bx lr'
  table.insert(ragged, '        mov     r1, r2          @ one')
  table.insert(ragged, '        mov     r3,r4       @ two "😀"')
  table.insert(ragged, '        mov     r5, r6          @ three')
  vim.api.nvim_buf_set_lines(0, 0, -1, true, ragged)
  vim.cmd([[normal \f]])
  local laid = vim.deepcopy(ragged)
  laid[5], laid[7] = 'lamp_time:', '        bx      lr'
  laid[6] = '        mov     r0, #0x1235     @ ticks: "ü" and "😀" stay'
  laid[9] = '        mov     r3, r4          @ two "😀"'
  equal(vim.api.nvim_buf_get_lines(0, 0, -1, true), laid, 'text after formatting')
  vim.cmd([[normal \f]])
  equal(vim.api.nvim_buf_get_lines(0, 0, -1, true), laid, 'text after formatting twice')
  vim.api.nvim_buf_set_lines(0, 0, -1, true, before)

  -- Hover answers on the mnemonic.
  local answers = vim.lsp.buf_request_sync(0, 'textDocument/hover', vim.lsp.util.make_position_params(0, 'utf-16'), 20000)
  local text
  for _, answer in pairs(answers or {}) do
    text = answer.result and answer.result.contents.value
  end
  assert(text and text:find('mov', 1, true), 'hover on mov: ' .. vim.inspect(answers))

  -- Completion offers what is legal in the mode.
  answers = vim.lsp.buf_request_sync(0, 'textDocument/completion', vim.lsp.util.make_position_params(0, 'utf-16'), 20000)
  local offered = {}
  for _, answer in pairs(answers or {}) do
    for _, item in ipairs(answer.result.items) do
      offered[item.label] = true
    end
  end
  assert(offered.movs and not offered.moveq, 'completion: ' .. vim.inspect(vim.tbl_keys(offered)))

  -- Hints at the end of lines: the word that a load gets, and the line that set flags.
  local marks = vim.api.nvim_get_namespaces().narrowgauge_hints
  local function hints()
    local out = {}
    for _, mark in ipairs(vim.api.nvim_buf_get_extmarks(0, marks, 0, -1, { details = true })) do
      out[mark[2] + 1] = mark[4].virt_text[1][1]
    end
    return out
  end
  local hinted = vim.deepcopy(before)
  hinted[6] = '        ldr     r0, =LAMP_TIME'
  table.insert(hinted, '        .equ    LAMP_TIME, 0x1234 + 1')
  vim.api.nvim_buf_set_lines(0, 0, -1, true, hinted)
  vim.cmd('doautocmd TextChanged')
  if not vim.lsp.inlay_hint then
    await(function()
      return (hints()[6] or ''):find('0x1235', 1, true)
    end, 'the hint with the word of the literal')
    vim.cmd([[normal \h]])
    equal(hints(), {}, 'hints that are hidden')
    vim.cmd([[normal \h]])
    await(function()
      return hints()[6] ~= nil
    end, 'the hint to come back')
  end

  -- Completion puts a name into the buffer, and the forms of an instruction are told while its
  -- operands are typed.
  vim.api.nvim_buf_set_lines(0, -1, -1, true, { '        ldr     r1, =LAMP_T' })
  vim.api.nvim_win_set_cursor(0, { #hinted + 1, 0 })
  local signature
  local signed = vim.lsp.handlers['textDocument/signatureHelp']
  vim.lsp.handlers['textDocument/signatureHelp'] = function(problem, answer, ...)
    signature = answer
    return signed(problem, answer, ...)
  end
  -- The answers come while Neovim is in insert mode, which the keys end.
  local tries = 0
  local function accept()
    tries = tries + 1
    if tries > 600 or signature and vim.fn.pumvisible() == 1 then
      vim.api.nvim_input('<C-y><Esc>')
    else
      vim.defer_fn(accept, 30)
    end
  end
  vim.defer_fn(accept, 30)
  vim.fn.feedkeys(vim.api.nvim_replace_termcodes('A<C-s><C-x><C-o>', true, false, true), 'x!')
  await(function()
    return vim.api.nvim_buf_get_lines(0, -2, -1, true)[1]:find('=LAMP_TIME', 1, true) ~= nil
  end, 'the name that completion offers')
  await(function()
    return signature ~= nil
  end, 'the forms of the instruction')
  assert(signature.signatures[1].label:find('ldr', 1, true), 'the form: ' .. vim.inspect(signature))
  vim.cmd('stopinsert')
  vim.api.nvim_buf_set_lines(0, 0, -1, true, before)

  -- Of lines that are selected only these are laid out.
  local two = vim.deepcopy(before)
  two[6], two[7] = '  mov r0, #1', '  bx lr'
  for register = 1, 4 do
    table.insert(two, ('        mov     r%d, r0'):format(register))
  end
  vim.api.nvim_buf_set_lines(0, 0, -1, true, two)
  vim.api.nvim_win_set_cursor(0, { 7, 2 })
  vim.fn.feedkeys([[V\f]], 'x')
  await(function()
    return vim.api.nvim_buf_get_lines(0, 6, 7, true)[1] == '        bx      lr'
  end, 'the selected line to be laid out')
  equal(vim.api.nvim_buf_get_lines(0, 5, 6, true)[1], '  mov r0, #1', 'the line that is not selected')
  vim.api.nvim_buf_set_lines(0, 0, -1, true, before)
  vim.api.nvim_win_set_cursor(0, { 6, 8 })

  -- The status line has what the source is taken for.
  await(function()
    return narrowgauge_target() ~= ''
  end, 'the target')
  equal(narrowgauge_target(), 'armv4t T16', 'the target for the status line')
  local said
  vim.notify = function(text)
    said = text
  end
  vim.cmd('NarrowgaugeTarget')
  await(function()
    return said ~= nil
  end, 'a sentence about the target')
  equal(said, 'Target armv4t, T16 in unified syntax, by the settings.', 'the target in a sentence')
  vim.b.narrowgauge_target = ''
  vim.cmd('doautocmd CursorHold')
  await(function()
    return narrowgauge_target() ~= ''
  end, 'the target at the cursor')
  assert(narrowgauge_where():match('^%.%S+%+0x%x+'), 'the place of the line: ' .. narrowgauge_where())

  several()

  local running = vim.lsp.get_clients or vim.lsp.get_active_clients -- the older name up to 0.9
  vim.lsp.stop_client(running())
  await(function()
    return #running() == 0
  end, 'the server to end')
end

local ok, problem = xpcall(test, function(e)
  return tostring(e)
end)
if not ok then
  fail(problem)
else
  print('test.lua: passed')
  vim.cmd('qall!')
end
