-- missing.lua - what somebody sees who has no server yet, and that it is found
-- where it is installed. neovim_test.go runs it with a PATH that has none.
--
-- Prints what went wrong and ends with a status other than 0, or ends with 0.

local source = debug.getinfo(1, 'S').source:sub(2)
local here = vim.fn.fnamemodify(source, ':p:h')

local function fail(text)
  io.stderr:write('missing.lua: ' .. text .. '\n')
  vim.cmd('cquit 1')
end

local function test()
  local server = os.getenv('NARROWGAUGE_SERVER')
  assert(server, 'NARROWGAUGE_SERVER is not set')
  local said = {}
  vim.notify = function(text)
    table.insert(said, text)
  end
  dofile(here .. '/narrowgauge.lua')

  local folder = vim.fn.tempname()
  vim.fn.mkdir(folder, 'p')
  for _, name in ipairs({ 'a.s', 'b.s', 'c.s' }) do
    vim.fn.writefile({ '        .syntax unified', '        .thumb', '        movs    r9, #1' }, folder .. '/' .. name)
  end
  vim.cmd('edit ' .. vim.fn.fnameescape(folder .. '/a.s'))
  vim.cmd('edit ' .. vim.fn.fnameescape(folder .. '/b.s'))
  assert(#said == 1, 'said ' .. #said .. ' times that there is no server: ' .. vim.inspect(said))
  for _, part in ipairs({ 'go build -o narrowgauge ./cmd/lsp', 'install -D -m 755 narrowgauge ~/.local/bin/narrowgauge', 'vim.g.narrowgauge' }) do
    assert(said[1]:find(part, 1, true), 'not a word of ' .. part .. ': ' .. said[1])
  end

  -- As the message says it.
  local bin = vim.fn.expand('~/' .. os.getenv('PLACE'))
  vim.fn.mkdir(bin, 'p')
  assert(vim.loop.fs_symlink(server, bin .. '/narrowgauge'))
  vim.cmd('edit ' .. vim.fn.fnameescape(folder .. '/c.s'))
  local found = vim.wait(20000, function()
    return #vim.diagnostic.get(0) == 1
  end, 20)
  assert(found, 'gave up waiting for a diagnostic: ' .. vim.inspect(said))
  assert(#said == 1, 'said more: ' .. vim.inspect(said))
end

local ok, problem = xpcall(test, function(e)
  return tostring(e)
end)
if not ok then
  fail(problem)
else
  print('missing.lua: passed')
  vim.cmd('qall!')
end
